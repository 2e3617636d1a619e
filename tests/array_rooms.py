"""Rooms for plane-wave arrays: a box in closed form, and a crooked one by finite elements."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import skfem as fem
from scipy import fft, signal, sparse
from scipy.sparse.linalg import eigsh
from skfem.helpers import dot, grad

from roomwright.acoustics import green_walls
from roomwright.tuning.arrays import Emitters, emitters, proposed_array

#: Across, back, up: a room of common size, its seats in three rows of seven.
SIZE = (4.5, 6.0, 2.7)
#: Walls of Sabine's 0.8 s: 0.133 of random-incidence absorption, 8 beta.
BETA = 0.0166
SEATS = np.array([(x, y, 1.2) for y in (2.5, 3.5, 4.5) for x in np.linspace(0.9, 3.6, 7)])
RATE = 1200
#: A room leaks below this, so that its pressure does not grow without end towards 0 Hz.
LEAK_HZ = 3.0


def stations(*heights: float) -> np.ndarray:
    """A grid of 0.68 m across and 0.8 m back, over the seats."""
    rows, columns = np.linspace(2.3, 4.7, 4), np.linspace(0.9, 3.6, 5)
    return np.array([(x, y, z) for z in heights for y in rows for x in columns])


def array(beta: float = BETA) -> Emitters:
    """Two by two at either end, 0.15 m from the wall."""
    return proposed_array(SIZE, np.full(6, beta), 140.0).array


def misplaced(by_m: float, seed: int = 13) -> Emitters:
    """The same, moved along the wall at random."""
    ideal = array()
    moved = ideal.position_m.copy()
    moved[:, [0, 2]] += np.random.default_rng(seed).uniform(-by_m, by_m, (8, 2))
    return emitters(ideal.names, moved, ideal.launches, SIZE, SEATS)


def on_the_floor() -> Emitters:
    """Two and two near the floor."""
    places = [(x, y, 0.3) for y in (0.15, 5.85) for x in (1.125, 3.375)]
    return emitters(["F1", "F2", "B1", "B2"], places, [True, True, False, False], SIZE, SEATS)


def box_field(sources, points, frequency, beta: float = BETA, c: float = 343.0) -> np.ndarray:
    """Re the free field at 1 m, (S, P, f)."""
    walls = np.full((6, np.size(frequency)), beta)
    return 4 * np.pi * green_walls(SIZE, sources, points, frequency, walls, c)


def as_responses(field, period_s: float, length_s: float) -> np.ndarray:
    """Impulse responses at 1200 Hz of a field at the bins k / period, k = 1, 2 ...

    With a leak, and a causal low-pass at 180 Hz; faded out at the end.
    """
    frequency = np.arange(1, field.shape[-1] + 1) / period_s
    low_pass = signal.butter(6, 180.0, fs=RATE, output="sos")
    shaped = field * (1j * frequency / (LEAK_HZ + 1j * frequency)) ** 2
    shaped *= signal.freqz_sos(low_pass, frequency, fs=RATE)[1]
    samples = round(period_s * RATE)
    spectrum = np.zeros((*field.shape[:-1], samples // 2 + 1), complex)
    spectrum[..., 1 : field.shape[-1] + 1] = shaped
    response = fft.irfft(spectrum, samples)[..., : round(length_s * RATE)]
    faded = response.shape[-1] // 10
    response[..., -faded:] *= np.cos(np.pi / 2 * np.arange(faded) / faded) ** 2
    return response.astype(np.float32)


def box_responses(sources, points, beta: float = BETA, c: float = 343.0) -> np.ndarray:
    """(S, P, 1.2 s at 1200 Hz): the sound has fallen by 50 dB and more at the end."""
    frequency = np.arange(1, round(1.6 * 360)) / 1.6
    return as_responses(box_field(sources, points, frequency, beta, c), 1.6, 1.2)


class CrookedRoom:
    """A room 6 m long, 4.5 m wide in front and 3.9 m at the back, with a sofa-sized block.

    Linear hexahedra of 0.38 m and a sum over its first modes, each damped by the walls: a model
    that shares nothing with the closed form. Coarse, but a room like any other to the design.
    """

    def __init__(self) -> None:
        steps = [np.linspace(0.0, side, n) for side, n in zip(SIZE, (13, 17, 8), strict=True)]
        mesh = fem.MeshHex.init_tensor(*steps)
        x, y, z = mesh.p[:, mesh.t].mean(axis=1)
        sofa = (x > 1.2) & (x < 3.3) & (y > 3.6) & (y < 4.6) & (z < 0.7)
        mesh = mesh.remove_elements(np.flatnonzero(sofa))
        across, back, up = mesh.p
        mesh = fem.MeshHex(np.array([across * (1.0 - 0.133 * back / 6.0), back, up]), mesh.t)
        self.basis = fem.Basis(mesh, fem.ElementHex1())
        walls = fem.FacetBasis(mesh, fem.ElementHex1())
        stiffness = fem.BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(self.basis)
        mass_form = fem.BilinearForm(lambda u, v, _: u * v)
        mass, lossy = mass_form.assemble(self.basis), mass_form.assemble(walls)
        start = np.ones(stiffness.shape[0])
        squared, self.shapes = eigsh(sparse.csc_matrix(stiffness), 90, mass, sigma=-1.0, v0=start)
        self.squared = np.maximum(squared, 0.0)
        self.losses = BETA * np.einsum("in,in->n", self.shapes, lossy @ self.shapes)

    def field(self, sources, points, frequency, c: float = 343.0) -> np.ndarray:
        """Re the free field at 1 m, (S, P, f)."""
        k = 2 * np.pi * np.asarray(frequency) / c
        at_sources, at_points = (
            self.basis.probes(np.asarray(p, float).T) @ self.shapes for p in (sources, points)
        )
        below = self.squared[:, None] - k**2 + 1j * k * self.losses[:, None]
        return np.einsum("sn,nf,pn->spf", at_sources, 4 * np.pi / below, at_points, optimize=True)

    def responses(self, sources, points, c: float = 343.0) -> np.ndarray:
        frequency = np.arange(1, round(1.6 * 260)) / 1.6
        return as_responses(self.field(sources, points, frequency, c), 1.6, 1.2)


@lru_cache
def crooked_room() -> CrookedRoom:
    return CrookedRoom()
