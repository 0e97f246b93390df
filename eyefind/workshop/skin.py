"""Skins of tubers, bark of the crown, fibres of stems: surface and colour."""

from copy import copy

import numpy as np
import torch
from torch import Tensor

from eyefind.workshop.anatomy import Tube
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Field
from eyefind.workshop.filters import gaussian
from eyefind.workshop.light import normals
from eyefind.workshop.noise import Noise, smoothstep
from eyefind.workshop.pose import Posed

SOIL = (0.29, 0.22, 0.16)
"""Colour of dry soil, sRGB."""


class _Places:
    """The clump's pixels as lists, with the values of the tube that each lies on."""

    def __init__(self, field: Field, posed: Posed) -> None:
        self.where = (field.tube > -2).nonzero(as_tuple=True)
        self.tex = field.tex[self.where]
        self.along = field.along[self.where]
        self.thick = field.thick[self.where]
        self.face = field.face[self.where]
        self.part = field.part[self.where]
        self.tube = field.tube[self.where].long()
        self._tubes = posed.clump.tubes
        self.dust = posed.clump.dust
        # Each tube gets its own stretch of the noise.
        shift = (self.tube.float() * 5.77).remainder(31)
        self.skin = self.tex + shift[:, None] * (self.tube >= 0)[:, None] * 10

    def only(self, chosen: Tensor) -> "_Places":
        """Return some of the places."""
        part = copy(self)
        part.where = (self.where[0][chosen], self.where[1][chosen])
        for name in ("tex", "along", "thick", "face", "part", "tube", "skin"):
            setattr(part, name, getattr(self, name)[chosen])
        return part

    def of_tube(self, name: str) -> Tensor:
        """Value of an attribute of Tube at every place (0 on the crown)."""
        values = [np.atleast_1d(getattr(tube, name)) for tube in self._tubes]
        table = np.concatenate([values, np.zeros((1, len(values[0])))]).astype("f4")
        # Index -1, the crown, takes the row of zeros at the end.
        found = torch.from_numpy(table).to(self.tex.device)[self.tube]
        return found[:, 0] if found.shape[1] == 1 else found

    def is_kind(self, *kinds: str) -> Tensor:
        """Whether each place lies on a tube of these kinds."""
        table = [float(tube.kind in kinds) for tube in self._tubes] + [0.0]
        return torch.tensor(table, device=self.tex.device)[self.tube] > 0


def dress(field: Field, posed: Posed, coat: Coat, noise: Noise) -> None:
    """Give the clump its skin: relief into the field, colour and gloss into the coat.

    Parameters
    ----------
    field, coat : Field, Coat
        Changed in place.
    posed : Posed
        The clump in the camera frame.
    noise : Noise
        Source of texture.
    """
    at = _Places(field, posed)
    crown = at.tube < 0
    stem = at.is_kind("stem", "old_stem")
    relief, colour = torch.zeros_like(at.along), torch.zeros_like(at.tex)
    makers = ((~(crown | stem), _body), (crown, _bark), (stem, _stem))
    for chosen, make in makers:
        if bool(chosen.any()):
            relief[chosen], colour[chosen] = make(at.only(chosen), noise, posed)
    _blend_necks(at, relief, colour, noise, posed)
    relief, colour = _crack(at, relief, colour, noise, posed.clump.tubes)
    facing = normals(field.z, field.camera.px_per_mm)[at.where]
    field.z[at.where] += relief / facing[:, 2].clamp(min=0.45)
    colour = _soil(field, at, colour, noise, posed)
    coat.colour[at.where] = colour.clamp(0.01, 1)
    wet = at.of_tube("wet")
    wettest = max(tube.wet for tube in posed.clump.tubes)
    wet = torch.where(crown, 0.55 * wettest, wet)
    patchy = smoothstep(-0.5, 0.4, noise.fbm(at.skin / 9, 2))
    dull = 0.15 * (1 - 0.85 * min(posed.clump.dust, 1))
    coat.gloss[at.where] = dull + (0.95 - dull) * wet * patchy


def _stretch(place: Tensor, round_mm: float, along_mm: float) -> Tensor:
    scale = torch.tensor([1 / round_mm, 1 / round_mm, 1 / along_mm])
    return place * scale.to(place.device)


def _body(at: _Places, noise: Noise, posed: Posed) -> tuple[Tensor, Tensor]:
    wrinkles, shrivel = at.of_tube("wrinkles"), at.of_tube("shrivel")
    spotty = at.of_tube("lenticels")
    patchy = smoothstep(-0.3, 0.4, noise.fbm(at.skin / 17 + 1.7, 2))
    near_end = 0.15 + 0.5 * patchy + 0.6 * (1 - smoothstep(4.0, 11.0, at.thick))
    rings = noise.fbm(_stretch(at.skin, 12, 2.2), 3)
    creases = noise.ridged(_stretch(at.skin, 15, 4.0), 2) - 0.5
    wander = noise.fbm(at.skin / 11 + 13, 3)[:, None]
    folds = noise.ridged(_stretch(at.skin + 4 * wander, 3.2, 24), 2) - 0.5
    lumps = noise.fbm(at.skin / 10, 2)
    grain = noise.fbm(at.skin / 0.9, 2)
    russet = noise.fbm(_stretch(at.skin, 3.4, 1.7) + 11, 4, 0.65)
    slim = (at.thick / 7).clamp(max=1)
    relief = slim * (
        wrinkles * near_end * (0.3 * rings + 0.35 * creases)
        + shrivel * (1.6 + shrivel) * (folds + 0.4 * rings)
        + 0.45 * lumps
    )
    relief = relief + 0.06 * grain + 0.12 * russet
    turn = torch.atan2(at.tex[:, 1], at.tex[:, 0]) * at.thick
    spots = noise.spots(turn / 5.0 + at.tube, at.tex[:, 2] / 3.6, spotty, aspect=1.7)
    dots = noise.spots(turn / 2.2 + 7, at.tex[:, 2] / 2.2, 0.3 * spotty)
    relief = relief + slim * (0.22 * spots - 0.1 * dots)
    base = at.of_tube("colour")
    blotches = at.of_tube("blotches")
    uneven = 0.08 + 0.27 * blotches
    mottle = 1 + uneven * noise.fbm(at.skin / 15, 4, 0.6) + 0.07 * rings
    mottle = mottle + 0.09 * grain + 0.2 * russet
    mottle = mottle - 0.25 * wrinkles * (creases - 0.2).clamp(min=0)
    mottle = mottle - 0.35 * shrivel * (-folds).clamp(min=0)
    colour = base * mottle[:, None]
    stain = smoothstep(0.1, 0.55, noise.fbm(at.skin / 23 + 3.3, 3))[:, None]
    stain = stain * (0.05 + 0.4 * blotches)[:, None]
    colour = colour * (1 - stain * torch.tensor([0.6, 1.0, 1.2]).to(base.device))
    rim = torch.tensor([0.55, 0.48, 0.42], device=base.device)
    colour = colour * (1 - (0.35 * spots)[:, None]) + (0.35 * spots)[:, None] * (
        rim * base * 1.4
    )
    colour = _film(at, colour, noise, russet)
    bloom = at.of_tube("mould") * smoothstep(-0.25, 0.35, noise.fbm(at.skin / 7, 3))
    grey = torch.tensor([0.62, 0.63, 0.60], device=base.device)
    colour = torch.lerp(colour, grey * (1 + 0.2 * grain[:, None]), bloom[:, None])
    return relief, colour * (1 - 0.45 * dots)[:, None]


def _film(at: _Places, colour: Tensor, noise: Noise, russet: Tensor) -> Tensor:
    """Leave a film of dried mud and scurf in patches."""
    lies = noise.fbm(at.skin / 26 + 21, 5, 0.6) + 0.45 * russet
    share = smoothstep(0.02, 0.4, lies - 0.25 + 0.55 * at.dust) * (0.25 + 0.4 * at.dust)
    mud = torch.tensor([0.47, 0.40, 0.31], device=colour.device)
    mud = mud * (1 + 0.25 * russet[:, None])
    return colour * (1 - share[:, None]) + mud * share[:, None]


def _bark(at: _Places, noise: Noise, posed: Posed) -> tuple[Tensor, Tensor]:
    coarse = noise.ridged(at.tex / 8.0, 3) - 0.5
    medium = noise.fbm(at.tex / 3.0 + 4, 3)
    fibres = noise.ridged(_stretch(at.tex, 1.3, 7.0), 2) - 0.5
    flakes = smoothstep(0.05, 0.12, noise.fbm(at.tex / 5.5 + 9, 3))
    warts = smoothstep(0.1, 0.45, noise.fbm(at.tex / 2.1 + 15, 2))
    relief = 1.5 * coarse + 0.9 * medium + 0.3 * fibres + 0.3 * flakes + 0.5 * warts
    relief = posed.clump.rough * relief
    base = torch.tensor(posed.clump.bark, dtype=torch.float32, device=at.tex.device)
    tone = 1 + 0.35 * medium + 0.3 * coarse + 0.25 * fibres
    tone = tone * (1 + 0.22 * (flakes - 0.5))
    patch = smoothstep(-0.2, 0.5, noise.fbm(at.tex / 14 + 5, 3))[:, None]
    grey = base.mean() * torch.tensor([1.1, 1.0, 0.87], device=base.device)
    warm = base * torch.tensor([1.05, 0.98, 0.89], device=base.device)
    return relief, (grey * patch + warm * (1 - patch)) * tone[:, None]


def _stem(at: _Places, noise: Noise, posed: Posed) -> tuple[Tensor, Tensor]:
    fibres = noise.fbm(_stretch(at.skin, 0.9, 30), 3)
    ribs = noise.ridged(_stretch(at.skin, 4.0, 60), 2) - 0.5
    relief = 0.3 * fibres + 0.35 * ribs
    base = at.of_tube("colour")
    tone = 1 + 0.2 * fibres + 0.15 * ribs + 0.15 * noise.fbm(at.skin / 9, 3)
    foot = 1 - smoothstep(8, 36, at.along + 8 * noise.fbm(at.skin / 7, 2))
    bark = torch.tensor(posed.clump.bark, dtype=torch.float32, device=base.device)
    foot = 0.85 * foot[:, None]
    colour = (base * (1 - foot) + foot * bark) * tone[:, None]
    relief = relief + foot[:, 0] * (noise.ridged(at.skin / 6, 3) - 0.5)
    cut = at.face >= 0
    pith = at.of_tube("flesh") * (0.8 + 0.25 * tone[:, None])
    hollow = (at.face >= 0) & (at.face < at.of_tube("hollow"))
    pith = torch.where(hollow[:, None], pith * 0.35, pith)
    skin_edge = smoothstep(0.82, 0.95, at.face)[:, None]
    pith = pith * (1 - skin_edge) + base * skin_edge
    grain = noise.fbm(at.tex * 1.3, 3)
    relief = torch.where(cut, 0.15 * grain, relief)
    return relief, torch.where(cut[:, None], pith * (1 + 0.1 * grain[:, None]), colour)


def _blend_necks(
    at: _Places, relief: Tensor, colour: Tensor, noise: Noise, posed: Posed
) -> None:
    """Let the bark of the crown run out over the necks, further on some."""
    near = (at.along < 40) & at.is_kind("tuber", "spent_parent")
    if not bool(near.any()):
        return
    necks = at.only(near)
    own = torch.stack([necks.tube * 3.71, necks.tube * 0.0, necks.tube * 0.0], dim=-1)
    reach = 10 + 9 * noise.at(own + 0.5) + 10 * noise.fbm(necks.skin / 6, 2)
    share = 1 - smoothstep(0.0, 1.0, (necks.along - 3.5) / reach.clamp(min=2.5))
    bark_relief, bark_colour = _bark(necks, noise, posed)
    relief[near] = torch.lerp(relief[near], 0.7 * bark_relief, share)
    colour[near] = torch.lerp(colour[near], bark_colour, 0.95 * share[:, None])


def _crack(
    at: _Places, relief: Tensor, colour: Tensor, noise: Noise, tubes: list[Tube]
) -> tuple[Tensor, Tensor]:
    """Open the skin around broken necks: a dark cleft between pale lips."""
    for number, tube in enumerate(tubes):
        if not tube.broken:
            continue
        off = at.along - float(tube.along[tube.neck]) + 2.2 * noise.fbm(at.skin / 9, 3)
        on = at.tube == number
        cleft = torch.exp(-((off / 0.8) ** 2)) * on
        lips = torch.exp(-((off / 2.2) ** 2)) * on
        relief = relief - 2.4 * cleft + 0.4 * lips
        flesh = torch.tensor([0.82, 0.75, 0.55], device=colour.device)
        cover = (0.75 * lips)[:, None]
        colour = colour * (1 - cover) + flesh * cover
        colour = colour * (1 - 0.85 * cleft)[:, None]
    return relief, colour


def _soil(
    field: Field, at: _Places, colour: Tensor, noise: Noise, posed: Posed
) -> Tensor:
    """Leave soil in the hollows."""
    px = field.camera.px_per_mm
    fine = (gaussian(field.z, 0.8 * px) - field.z)[at.where]
    wide = (gaussian(field.z, 3.0 * px) - field.z)[at.where]
    patch = noise.fbm(at.skin / 8 + 2, 4, 0.6)
    deep = (1.3 * fine + 0.35 * wide).clamp(-1, 1)
    inner = 0.25 - 0.17 * smoothstep(8.0, 40.0, at.along)
    dust = posed.clump.dust
    share = smoothstep(0.0, 0.8, deep + 0.8 * patch + inner + 1.1 * dust - 0.85)
    share = share * (0.35 + 0.6 * dust)
    share = share * (at.face < 0)
    crust = smoothstep(0.0, 0.2, patch + 1.3 * posed.clump.caked - 0.75)
    crust = crust * (at.face < 0) * (posed.clump.caked > 0)
    field.z[at.where] += 0.8 * crust
    share = torch.maximum(share, 0.95 * crust)
    soil = torch.tensor(SOIL, device=colour.device)
    soil = soil * (1 + 0.3 * noise.fbm(at.skin / 0.8, 2))[:, None]
    return torch.lerp(colour, soil, share[:, None])
