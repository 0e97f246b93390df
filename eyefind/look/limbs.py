"""Find the crown among the blobs, and the limbs that hang on it."""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from eyefind.data import Mask, Points
from eyefind.look.blobs import Blobs, Contact, Labels
from eyefind.look.frame import Frame

CORE_SHARE = 0.55
"""The crown is what a disc of this share of its radius can sweep."""
LIMB_LENGTH_MM = 15.0
"""A shorter outgrowth is no limb of its own."""

Tree = dict[int, dict[int, Contact]]


@dataclass(frozen=True, eq=False)
class Limb:
    """A stem or a tuber before it is known which.

    Attributes
    ----------
    mask : (h, w) bool array
        Its pixels.
    base_rc : (2,) array
        Where it hangs on, working px.
    parent : int or None
        Place in the list of the limb it grows from; None for the crown.
    """

    mask: Mask
    base_rc: Points
    parent: int | None


def find_limbs(frame: Frame, blobs: Blobs) -> tuple[Mask, list[Limb]]:
    """Find the crown and what grows from it.

    Parameters
    ----------
    frame : Frame
        The clump.
    blobs : Blobs
        Its blobs.

    Returns
    -------
    crown : (h, w) bool array
        Empty when none was made out.
    limbs : list of Limb
        Stems and tubers; a parent comes before its child. Without a crown one limb,
        the whole clump.
    """
    tree = _spanning_tree(blobs)
    hub = _hub(blobs, tree)
    if hub is None:
        return np.zeros_like(frame.mask), [_lone(frame, blobs)]
    label = blobs.label.copy()
    order = _outwards(tree, hub)
    own = _outgrowths(label, hub, _core(blobs, hub, frame.px_per_mm), frame.px_per_mm)
    order += [(blob, hub) for blob in own]
    place = {blob: number for number, (blob, _) in enumerate(order)}
    limbs = []
    for blob, parent in order:
        base = _touch(label == blob, label == parent)
        limbs.append(Limb(label == blob, base, place.get(parent)))
    return label == hub, limbs


def _spanning_tree(blobs: Blobs) -> Tree:
    """Keep the widest contacts that hang all blobs together without a ring."""
    tree: Tree = {blob: {} for blob in blobs.radius_mm}
    group = {blob: blob for blob in tree}
    by_width = sorted(blobs.contacts.items(), key=lambda item: -item[1].radius_mm)
    for (one, other), contact in by_width:
        a, b = group[one], group[other]
        if a == b:
            continue
        group = {blob: a if of == b else of for blob, of in group.items()}
        tree[one][other] = tree[other][one] = contact
    return tree


def _hub(blobs: Blobs, tree: Tree) -> int | None:
    """Find the blob through which most ways between the others lead."""
    areas = np.bincount(blobs.label.ravel()).astype(float)
    total = areas[1:].sum()

    def beyond(blob: int, origin: int) -> float:
        ways = (beyond(far, blob) for far in tree[blob] if far != origin)
        return float(areas[blob] / total) + sum(ways)

    best, most = None, 0.0
    for blob in tree:
        shares = [beyond(near, blob) for near in tree[blob]]
        between = sum(shares) ** 2 - sum(share**2 for share in shares)
        if between > most + 1e-9:
            best, most = blob, between
    return best


def _outwards(tree: Tree, hub: int) -> list[tuple[int, int]]:
    """List every blob but the hub with its parent, parents first."""
    order, queue = [], [(near, hub) for near in tree[hub]]
    while queue:
        blob, parent = queue.pop(0)
        order.append((blob, parent))
        queue += [(near, blob) for near in tree[blob] if near != parent]
    return order


def _core(blobs: Blobs, hub: int, px_per_mm: float) -> Mask:
    """Cut the hub's outgrowths off: keep what a disc can sweep from its middle."""
    own = (blobs.label == hub).astype(np.uint8)
    depth = cv2.distanceTransform(own, cv2.DIST_L2, 5)
    centre = np.unravel_index(int(np.argmax(depth)), depth.shape)
    radius = min(CORE_SHARE * blobs.radius_mm[hub] * px_per_mm, float(depth[centre]))
    seeds, _ = ndimage.label(depth >= radius)
    other = (seeds != seeds[centre]).astype(np.uint8)
    away = cv2.distanceTransform(other, cv2.DIST_L2, 5)
    return np.asarray((own > 0) & (away <= radius))


def _outgrowths(label: Labels, hub: int, core: Mask, px_per_mm: float) -> list[int]:
    """Share the hub's outgrowths out, in place; returns the limbs of their own.

    An outgrowth that leads to another blob is that blob's neck; a long one that leads
    nowhere is a limb of its own; a short one stays crown.
    """
    away = cv2.distanceTransform((~core).astype(np.uint8), cv2.DIST_L2, 5)
    pieces, count = ndimage.label((label == hub) & ~core)
    own: list[int] = []
    first = int(label.max()) + 1
    for number in range(1, count + 1):
        piece = pieces == number
        rim = cv2.dilate(piece.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        beside = label[rim & (label > 0) & (label < first) & (label != hub)]
        if len(beside):
            label[piece] = np.bincount(beside).argmax()
        elif away[piece].max() >= LIMB_LENGTH_MM * px_per_mm:
            own.append(first + len(own))
            label[piece] = own[-1]
    return own


def _touch(part: Mask, other: Mask) -> Points:
    """Middle of the border between two parts, working px."""
    rim = cv2.dilate(other.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    places = np.argwhere(part & rim)
    if len(places) == 0:
        places = np.argwhere(part)
    return np.asarray(places.mean(axis=0), float)


def _lone(frame: Frame, blobs: Blobs) -> Limb:
    """Take the whole clump as one tuber, hung on by its slimmer end."""
    inside = np.argwhere(frame.mask).astype(float)
    middle = inside.mean(axis=0)
    _, _, turned = np.linalg.svd(inside - middle, full_matrices=False)
    along = (inside - middle) @ turned[0]
    ends = [
        inside[along < np.quantile(along, 0.1)],
        inside[along > np.quantile(along, 0.9)],
    ]
    depth = [blobs.depth_mm[tuple(end.astype(int).T)].max() for end in ends]
    slim = int(np.argmin(depth))
    tip = np.argmin(along) if slim == 0 else np.argmax(along)
    return Limb(frame.mask, inside[tip], None)
