"""Rounded bodies under lamps, by Lambert's law: every normal is known exactly."""

import cv2
import numpy as np


def lamp(azimuth_deg, height_deg):
    """Return the unit vector (row, col, up) to a lamp; 0 is above, 90 right."""
    azimuth, height = np.radians((azimuth_deg, height_deg))
    flat = np.cos(height)
    return np.array([-np.cos(azimuth) * flat, np.sin(azimuth) * flat, np.sin(height)])


def sphere(side_px=300, radius_px=120.0, places=((0.5, 0.5),)):
    """Return the normals (H, W, 3) and the mask of half spheres on a bench."""
    rows, cols = np.mgrid[:side_px, :side_px].astype(float)
    normals = np.zeros((side_px, side_px, 3))
    normals[..., 2] = 1.0
    mask = np.zeros((side_px, side_px), bool)
    for place in places:
        down, right = (side_px - 1) * np.array(place)
        row, col = (rows - down) / radius_px, (cols - right) / radius_px
        inside = row**2 + col**2 < 1
        up = np.sqrt(np.maximum(1 - row**2 - col**2, 0.0))
        normals[inside] = np.dstack([row, col, up])[inside]
        mask |= inside
    return normals, mask


def skin(shape, mask, seed=0):
    """Return a mottled reflectance (H, W, 3): reddish bodies, a greenish bench."""
    rng = np.random.default_rng(seed)
    spots = cv2.GaussianBlur(rng.normal(size=(*shape, 3)), (0, 0), 2.5) * 5
    base = np.where(mask[..., None], (0.62, 0.42, 0.30), (0.30, 0.40, 0.33))
    return np.clip(base * (1 + 0.18 * spots), 0.05, 0.95)


def photograph(normals, colour, towards, ambient=0.1, exposure=0.8, seed=1):
    """Return the (H, W, 3) uint8 sRGB picture under one lamp, with some noise."""
    lit = np.maximum(normals @ towards, 0.0) + ambient * normals[..., 2]
    light = exposure * colour * lit[..., None]
    noise = np.random.default_rng(seed).normal(scale=0.002, size=light.shape)
    return to_srgb(light + noise)


def to_srgb(light):
    """Encode linear light (IEC 61966-2-1)."""
    light = np.clip(light, 0, 1)
    curve = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
    )
    return (curve * 255 + 0.5).astype(np.uint8)


def slopes(normals):
    """Return the rise along (row, col) of surfaces with these normals."""
    return -normals[..., :2] / np.maximum(normals[..., 2:], 1e-3)


def moved(frame, right_px, down_px, turn_deg=0.0):
    """Return a frame moved and turned about its middle, and the (3, 3) matrix."""
    height, width = frame.shape[:2]
    middle = ((width - 1) / 2, (height - 1) / 2)
    matrix = np.vstack([cv2.getRotationMatrix2D(middle, turn_deg, 1.0), (0, 0, 1)])
    matrix[:2, 2] += right_px, down_px
    done = cv2.warpPerspective(
        frame,
        matrix,
        (width, height),
        flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REFLECT,
    )
    return done, matrix
