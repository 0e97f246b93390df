"""Split the clump into tubers by the middles that the network points at.

Every pixel of a tuber says where the middle of that tuber lies; pixels that name the
same middle are one tuber, though it touch or cross another (Neven and others, CVPR
2019, from memory).
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage import measure
from skimage.segmentation import watershed

from eyefind.data import Mask, Points
from eyefind.look.blobs import Labels
from eyefind.look.frame import Frame
from eyefind.look.parts import BODY, STEM
from eyefind.look.views import Plane
from eyefind.model import Answers

VOTE_SIGMA_MM = 3.0
"""Blur of the votes: middles are named no better than that."""
APART_MM = 9.0
"""Two middles nearer than this are one."""
MOST_VAGUE = 0.6
"""The places that a tuber's pixels name spread by at most this share of what the pixels
themselves do; else nothing was made out and the middle is dropped."""
ENOUGH_PX = 3000
"""So many of a tuber's pixels tell how they spread."""
LEAST_MM2 = 50.0
"""A middle that fewer pixels name, in mm2, is no tuber of its own."""


def split_by_middles(frame: Frame, rest: Mask, chances: Plane, seen: Answers) -> Labels:
    """Split what is not crown into stems and tubers.

    Parameters
    ----------
    frame : Frame
        The clump.
    rest : (h, w) bool array
        Tissue without the crown.
    chances : (h, w, 4) float32 array
        What each pixel is.
    seen : Answers
        What the network says of the whole photo.

    Returns
    -------
    (h, w) int32 array
        Number of each pixel's piece from 1; 0 outside `rest`.
    """
    stem = rest & (chances[..., STEM] > chances[..., BODY])
    count, label = cv2.connectedComponents(stem.astype(np.uint8))
    label = label.astype(np.int32)
    body_rc = np.argwhere(rest & ~stem)
    offset = seen.on(seen.offset_mm, frame.corner_rc, frame.step, rest.shape)
    votes = body_rc + offset[tuple(body_rc.T)] * frame.px_per_mm
    middles = _middles(votes, rest.shape, frame.px_per_mm)
    if len(middles):
        nearest = _of_middle(body_rc, votes, middles)
        label[tuple(body_rc.T)] = count + nearest
    return _in_one_piece(label, rest)


def _of_middle(body_rc: Points, votes: Points, middles: Points) -> NDArray[np.intp]:
    """Say whose middle each pixel names; vague middles give way to the others."""
    while True:
        # |v - m| is least where |m|^2 / 2 - v.m is.
        half_squares = (middles**2).sum(axis=1, keepdims=True) / 2
        nearest = (half_squares - middles @ votes.T).argmin(axis=0)
        vague = [
            _vagueness(body_rc[nearest == index], votes[nearest == index])
            for index in range(len(middles))
        ]
        if max(vague) <= MOST_VAGUE or len(middles) == 1:
            return nearest
        middles = np.delete(middles, int(np.argmax(vague)), axis=0)


def _vagueness(body_rc: Points, votes: Points) -> float:
    """Spread of the named places over that of the pixels that name them."""
    if len(body_rc) == 0:
        return float("inf")
    every = -(-len(body_rc) // ENOUGH_PX)
    body_rc, votes = body_rc[::every], votes[::every]
    named, own = (
        np.median(np.linalg.norm(places - np.median(places, axis=0), axis=1))
        for places in (votes, body_rc)
    )
    return float(named / max(own, 1e-6))


def _middles(votes: Points, shape: tuple[int, int], px_per_mm: float) -> Points:
    """Places that enough pixels name as their tuber's middle, (N, 2) px."""
    at = np.clip(np.rint(votes), 0, np.array(shape) - 1).astype(np.intp)
    places = np.ravel_multi_index(tuple(at.T), shape)
    count = np.bincount(places, minlength=shape[0] * shape[1])
    count = count.reshape(shape).astype(np.float32)
    sigma = VOTE_SIGMA_MM * px_per_mm
    near = cv2.GaussianBlur(count, (0, 0), sigma) * (2 * np.pi * VOTE_SIGMA_MM**2)
    reach = 2 * round(APART_MM * px_per_mm / 2) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    peak = (near >= cv2.dilate(near, kernel)) & (near > LEAST_MM2)
    return np.argwhere(peak).astype(float)


def _in_one_piece(label: Labels, rest: Mask) -> Labels:
    """Keep each number's largest piece; what came loose goes to what it touches."""
    pieces = measure.label(label, background=0, connectivity=2)
    sizes = np.bincount(pieces.ravel())
    number_of = np.zeros(len(sizes), np.int32)
    number_of[pieces] = label
    # Of each number the largest piece comes last and is the one that stays.
    order = np.argsort(sizes[1:], kind="stable") + 1
    largest = dict(zip(number_of[order].tolist(), order.tolist(), strict=True))
    kept = np.where(np.isin(pieces, list(largest.values())), label, 0)
    if not kept.any():
        return rest.astype(np.int32)
    numbers = np.flatnonzero(np.bincount(kept.ravel()))
    new = np.zeros(numbers[-1] + 1, np.int32)
    new[numbers[numbers > 0]] = np.arange(1, np.count_nonzero(numbers) + 1)
    return new[_grown(kept, rest)]


def _grown(kept: Labels, rest: Mask) -> Labels:
    """Give what came loose to the nearest number; only where they meet is looked at."""
    loose = rest & (kept == 0)
    rim = cv2.dilate(loose.view(np.uint8), np.ones((3, 3), np.uint8)) > 0
    beside = np.where(rim, kept, 0)
    flooded = watershed(beside * 0, beside, mask=loose | (beside > 0))
    return np.where(loose, flooded, kept)
