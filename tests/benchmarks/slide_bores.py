"""What a millimetre of slide does on whole bores: an independent referee for the catalogue.

Usage: python tests/benchmarks/slide_bores.py > tests/data/slide_effects_openwind.csv

Needs openwind 0.12.4 (GPL-3.0, ``pip install openwind``), which the program does not depend on:
only its numbers are kept. Input impedance by transfer matrices with viscothermal losses and a
radiating bell; resonances are the maxima of its modulus. The bores are from memory, so each is one
plausible instrument and not a measured one. Lip and mouth are left out, and played pitch is not an
impedance peak.

A row gives the cents per millimetre of pull at one harmonic, over the rule ``c/(2 f1)`` with two
legs, ``-2400 / (1000 ln 2 L)``.
"""

from __future__ import annotations

import csv
import math
import sys

import numpy as np
from openwind import ImpedanceComputation

PULL_MM = 10.0
NOMINAL_HZ = {"trumpet": 116.541, "trombone": 58.270}
SPEED = 343.987  # dry enough at 20 °C; the same in both terms of every ratio


def bessel(start_m, length_m, throat_m, mouth_m, exponent, points=40):
    """Return sections of a Bessel horn: radius ``b (x0 - x)^-a`` from throat to mouth."""
    ratio = (mouth_m / throat_m) ** (1.0 / exponent)
    offset = length_m / (ratio - 1.0)  # distance from the pole at the mouth
    x = np.linspace(0.0, length_m, points)
    radius = mouth_m * (offset / (length_m - x + offset)) ** exponent
    radius *= throat_m / radius[0]
    return [
        [start_m + x[i], start_m + x[i + 1], radius[i], radius[i + 1], "linear"]
        for i in range(points - 1)
    ]


def bore(sections):
    """Return openwind's list from (length_m, radius_in, radius_out) and a bell at the end."""
    rows, at = [], 0.0
    for length, one, other in sections:
        rows.append([at, at + length, one, other, "linear"])
        at += length
    return rows, at


def trumpet(pull_m):
    """B♭ trumpet: mouthpiece, leadpipe, tuning slide, cylinder, bell (all from memory)."""
    rows, at = bore(
        [
            (0.012, 0.0085, 0.0085),  # cup
            (0.004, 0.0085, 0.00183),
            (0.071, 0.00183, 0.0044),  # backbore
            (0.210, 0.0047, 0.00583),  # leadpipe
            (0.150 + 2.0 * pull_m, 0.00583, 0.00583),  # tuning slide, two legs
            (0.375, 0.00583, 0.00583),  # valves and tubes
        ]
    )
    return rows + bessel(at, 0.500, 0.00583, 0.0615, 0.58)


def trombone(pull_m):
    """B♭ tenor trombone with its tuning slide in the bell bow (all from memory)."""
    rows, at = bore(
        [
            (0.018, 0.0127, 0.0127),
            (0.006, 0.0127, 0.0031),
            (0.060, 0.0031, 0.0062),
            (0.150, 0.0062, 0.0069),  # leadpipe
            (1.300, 0.0069, 0.0069),  # hand slide, closed
            (0.250, 0.0069, 0.0095),  # neck pipe
            (0.200 + 2.0 * pull_m, 0.0095, 0.0095),  # tuning slide
        ]
    )
    return rows + bessel(at, 0.750, 0.0095, 0.108, 0.60)


def resonances(make, pull_m, nominal_hz, harmonics):
    """Return the frequency of the impedance peak nearest each harmonic [Hz]."""
    grid = np.arange(0.6 * nominal_hz, (max(harmonics) + 0.8) * nominal_hz, 0.02 * nominal_hz)
    found = ImpedanceComputation(grid, make(pull_m), temperature=20, losses=True)
    modulus = np.abs(found.impedance)
    peaks = [i for i in range(1, len(grid) - 1) if modulus[i - 1] < modulus[i] >= modulus[i + 1]]
    result = []
    for harmonic in harmonics:
        near = min(peaks, key=lambda i: abs(grid[i] - harmonic * nominal_hz))
        fine = np.linspace(grid[near - 1], grid[near + 1], 41)
        values = np.abs(
            ImpedanceComputation(fine, make(pull_m), temperature=20, losses=True).impedance
        )
        top = int(np.clip(np.argmax(values), 1, 39))
        a, b, c = np.log(values[top - 1 : top + 2])
        result.append(fine[top] + 0.5 * (a - c) / (a - 2 * b + c) * (fine[1] - fine[0]))
    return np.array(result)


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["bore", "harmonic", "resonance_hz", "effect"])
    for name, make in (("trumpet", trumpet), ("trombone", trombone)):
        harmonics = [2, 3, 4, 5, 6, 8]
        nominal = NOMINAL_HZ[name]
        before = resonances(make, 0.0, nominal, harmonics)
        after = resonances(make, PULL_MM / 1000.0, nominal, harmonics)
        rule = 1200.0 * math.log2(1.0 + 2.0 * PULL_MM / 1000.0 / (SPEED / (2.0 * nominal)))
        for harmonic, one, other in zip(harmonics, before, after, strict=True):
            effect = 1200.0 * math.log2(one / other) / rule
            out.writerow([name, harmonic, f"{one:.2f}", f"{effect:.3f}"])


if __name__ == "__main__":
    main()
