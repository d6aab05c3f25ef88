"""Two coils, poles and plates in an even field and under a string, by finite differences: the table of iron.

Static fields around an axis: with A the vector potential's only part and psi = 2 pi r A the flux inside the radius r,

    d/dr ( nu / r  d psi / dr ) + d/dz ( nu / r  d psi / dz ) = - 2 pi J,    nu = 1 / (mu0 mu_r).

A grid of square cells carries mu_r; psi lives on its corners; each link between two corners has the
reluctance of the two half cells beside it. The even field is psi = pi r^2 B on a far boundary. A coil's
flux linkage is psi, averaged over its section. Nothing here is shared with the program.

    python tests/pair/iron_field.py          the table at 0.25 mm, as in docs/pairs.md
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy
import scipy.sparse
import scipy.sparse.linalg

STEEL, ROD = 500.0, 4.0  # relative permeability at small fields, from memory
INNER_MM, OUTER_MM, WIDE_MM, GAP_MM, POLE_MM = 3.5, 9.5, 9.0, 2.0, 2.5
REACH_MM, HIGH_MM = 60.0, 60.0  # of the box: the boundary is this far
PLATE_MM = 11.0  # radius of a plate


@dataclass(frozen=True)
class Block:
    """A ring of iron: radii and heights in millimetres, z = 0 in the middle between both coils."""

    r0: float
    r1: float
    z0: float
    z1: float
    mu: float


TOP, BOTTOM = WIDE_MM + GAP_MM / 2, -(WIDE_MM + GAP_MM / 2)


def pole(mu: float, z0: float = BOTTOM - 1.5, z1: float = TOP + 1.5) -> Block:
    """By default a millimetre and a half longer than both coils at each end."""
    return Block(0.0, POLE_MM, z0, z1, mu)


CASES = {
    "no iron": [],
    "rod magnet through both": [pole(ROD)],
    "steel through both": [pole(STEEL)],
    "steel through both, 1 mm further out at the top": [pole(STEEL, BOTTOM - 0.5, TOP + 1.5)],
    "rod magnet in the near coil only": [pole(ROD, 0.0, TOP + 1)],
    "steel in the near coil only": [pole(STEEL, 0.0, TOP + 1)],
    "steel through both, plate of 2 mm under the far coil": [
        pole(STEEL, BOTTOM - 2.5),
        Block(0.0, PLATE_MM, BOTTOM - 2.5, BOTTOM - 0.5, STEEL),
    ],
    "steel in the near coil, plate filling the gap": [
        pole(STEEL, 0.0),
        Block(0.0, PLATE_MM, -GAP_MM / 2, GAP_MM / 2, STEEL),
    ],
}


class Grid:
    """Corners at r = i h, z = -HIGH + k h, in millimetres."""

    def __init__(self, blocks: list[Block], step_mm: float) -> None:
        self.h = step_mm
        self.rings, self.rows = round(REACH_MM / step_mm), round(2 * HIGH_MM / step_mm)
        middle_r = (numpy.arange(self.rings) + 0.5) * step_mm
        middle_z = -HIGH_MM + (numpy.arange(self.rows) + 0.5) * step_mm
        mu = numpy.ones((self.rings, self.rows))
        for block in blocks:
            inside_r = (middle_r > block.r0) & (middle_r < block.r1)
            inside_z = (middle_z > block.z0) & (middle_z < block.z1)
            mu[numpy.ix_(inside_r, inside_z)] = block.mu
        self.nu_r = 1 / (mu * middle_r[:, None])  # nu over r in each cell
        self._matrix()

    def _matrix(self) -> None:
        """Links between the corners inside; corners on the axis and the boundary are given."""
        n, m, nu = self.rings, self.rows, self.nu_r
        number = numpy.arange((n + 1) * (m + 1)).reshape(n + 1, m + 1)
        below = numpy.concatenate([nu[:, :1], nu], axis=1)
        above = numpy.concatenate([nu, nu[:, -1:]], axis=1)
        along_r = (below + above) / 2  # link (i, k) to (i+1, k): half cells below and above
        left = numpy.concatenate([nu[:1], nu], axis=0)
        right = numpy.concatenate([nu, nu[-1:]], axis=0)
        along_z = (left + right) / 2
        rows = [number[:-1, :].ravel(), number[:, :-1].ravel()]
        columns = [number[1:, :].ravel(), number[:, 1:].ravel()]
        one, other = numpy.concatenate(rows), numpy.concatenate(columns)
        weight = numpy.concatenate([along_r.ravel(), along_z.ravel()])
        size = number.size
        links = scipy.sparse.coo_matrix((weight, (one, other)), shape=(size, size)).tocsr()
        links = links + links.T
        self._whole = scipy.sparse.diags(numpy.asarray(links.sum(axis=1)).ravel()) - links
        edge = numpy.zeros((n + 1, m + 1), dtype=bool)
        edge[0, :] = edge[-1, :] = edge[:, 0] = edge[:, -1] = True
        self._free, self._edge = ~edge.ravel(), edge.ravel()
        inside = self._whole[self._free][:, self._free].tocsc()
        self._solve = scipy.sparse.linalg.factorized(inside)
        self._shape = (n + 1, m + 1)

    def even_field(self) -> numpy.ndarray:
        """psi for a field of one over pi at the boundary: psi = r^2 there."""
        r = numpy.arange(self._shape[0]) * self.h
        psi = numpy.broadcast_to((r**2)[:, None], self._shape).ravel().copy()
        psi[self._free] = self._solve(-self._whole[self._free][:, self._edge] @ psi[self._edge])
        return psi.reshape(self._shape)

    def of_current(self, z0: float, z1: float) -> numpy.ndarray:
        """psi of a coil between these heights with an even current, any scale; nothing at the boundary."""
        source = self._section(z0, z1).ravel()
        psi = numpy.zeros(source.size)
        psi[self._free] = self._solve(source[self._free])
        return psi.reshape(self._shape)

    def linked(self, psi: numpy.ndarray, z0: float, z1: float) -> float:
        """Mean of psi over a coil's section."""
        weights = self._section(z0, z1)
        return float((psi * weights).sum() / weights.sum())

    def _section(self, z0: float, z1: float) -> numpy.ndarray:
        """How much of each corner's own square lies in the section."""

        def shares(at: numpy.ndarray, low: float, high: float) -> numpy.ndarray:
            reach = numpy.minimum(at + self.h / 2, high) - numpy.maximum(at - self.h / 2, low)
            return numpy.clip(reach / self.h, 0, 1)

        r = numpy.arange(self._shape[0]) * self.h
        z = -HIGH_MM + numpy.arange(self._shape[1]) * self.h
        return shares(r, INNER_MM, OUTER_MM)[:, None] * shares(z, z0, z1)[None, :]

    def on_axis_field(self, psi: numpy.ndarray, z_mm: float) -> float:
        """B on the axis, the scale of psi: psi = pi r^2 B close to it."""
        k = round((z_mm + HIGH_MM) / self.h)
        return float(psi[1, k] / self.h**2)


NEAR, FAR = (GAP_MM / 2, TOP), (BOTTOM, -GAP_MM / 2)


def hum_factors(name: str, step_mm: float) -> tuple[float, float]:
    """Hum of the near and of the far coil over that without iron."""
    plain, iron = Grid([], step_mm), Grid(CASES[name], step_mm)
    fields = [grid.even_field() for grid in (plain, iron)]
    near, far = (
        iron.linked(fields[1], *place) / plain.linked(fields[0], *place) for place in (NEAR, FAR)
    )
    return near, far


def far_shares(name: str, step_mm: float) -> tuple[float, float]:
    """r for a moving moment and for a moving pole, by reciprocity, a string 3 to 5 mm above: lowest, highest."""
    grid = Grid(CASES[name], step_mm)
    near, far = (grid.of_current(*place) for place in (NEAR, FAR))
    found = []
    for above in (3.0, 4.0, 5.0):
        z = TOP + above
        fields = [
            [grid.on_axis_field(psi, z + side) for side in (-0.5, 0, 0.5)] for psi in (near, far)
        ]
        found.append(fields[1][1] / fields[0][1])
        found.append((fields[1][2] - fields[1][0]) / (fields[0][2] - fields[0][0]))
    return min(found), max(found)


def main() -> None:
    step_mm = float(sys.argv[1]) if len(sys.argv) > 1 else 0.25
    print("| iron | hum of near / far coil, times without | hum left | signal of far over near |")
    print("|---|---|---|---|")
    for name in CASES:
        near, far = hum_factors(name, step_mm)
        left = abs(near - far) / near
        words = "none" if left < 5e-4 else f"{20 * numpy.log10(left):.1f} dB"
        low, high = far_shares(name, step_mm)
        print(f"| {name} | {near:.2f} / {far:.2f} | {words} | {low:.2f}-{high:.2f} |")


if __name__ == "__main__":
    main()
