#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Compares `brinegate salinity` with the TEOS-10 toolbox (python3-gsw) at random points.

Usage: gsw_salinity_test.py PATH_OF_BRINEGATE [--points N] [--seed S]
"""

import argparse
import json
import random
import subprocess
import sys

import gsw

GRAMS_PER_KG_OF_35 = 35.16504  # Millero et al. 2008
# Largest difference allowed in each field: what is left when both sides compute in doubles.
ALLOWED = {
    "practical_salinity": 1e-9,
    "reference_salinity_g_kg": 1e-9,
    "density_kg_m3": 1e-8,
    "specific_gravity_25_25": 1e-11,
}


def expected(conductivity, temperature):
    salinity = float(gsw.SP_from_C(conductivity, temperature, 0.0))
    reference = salinity * GRAMS_PER_KG_OF_35 / 35.0
    return {
        "practical_salinity": salinity,
        "reference_salinity_g_kg": reference,
        "density_kg_m3": float(gsw.rho_t_exact(reference, temperature, 0.0)),
        "specific_gravity_25_25": float(
            gsw.rho_t_exact(reference, 25.0, 0.0) / gsw.rho_t_exact(0.0, 25.0, 0.0)
        ),
    }


def answered(brinegate, conductivity, temperature, compensation):
    """What the program says, told in situ or as a compensated probe shows it."""
    command = [brinegate, "salinity", "--json", "--temperature", f"{temperature:.3f} C"]
    if compensation is not None:
        conductivity /= 1.0 + compensation / 100.0 * (temperature - 25.0)
        command += ["--compensated-to", "25", "--alpha", f"{compensation}"]
    command += ["--conductivity", f"{conductivity!r} mS/cm"]
    run = subprocess.run(command, capture_output=True, text=True, timeout=10, check=False)
    if run.returncode != 0:
        raise RuntimeError(f"{command} ended with {run.returncode}: {run.stderr.strip()}")
    return json.loads(run.stdout)


def random_point(draw):
    """Half of the points in the sea's range, half from nearly fresh to the end of the scale."""
    sea = draw.random() < 0.5
    salinity = draw.uniform(30.0, 40.0) if sea else draw.uniform(0.05, 41.9)
    temperature = round(draw.uniform(15.0, 32.0) if sea else draw.uniform(0.0, 35.0), 3)
    conductivity = round(float(gsw.C_from_SP(salinity, temperature, 0.0)), 4)
    return conductivity, temperature, draw.choice([None, None, 1.9, 2.0, 2.1])


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("brinegate")
    parser.add_argument("--points", type=int, default=300)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(2**32))
    options = parser.parse_args()
    if options.points < 1:
        parser.error("--points must be at least 1")
    print(f"{options.points} points, --seed {options.seed}")

    draw = random.Random(options.seed)
    largest = dict.fromkeys(ALLOWED, 0.0)
    mismatches = 0
    for _ in range(options.points):
        point = random_point(draw)
        answer = answered(options.brinegate, *point)
        for field, value in expected(*point[:2]).items():
            difference = abs(answer[field] - value)
            largest[field] = max(largest[field], difference)
            if not difference <= ALLOWED[field]:
                mismatches += 1
                print(f"{point}: {field} is {answer[field]!r}, gsw says {value!r}")

    for field, difference in largest.items():
        print(f"{field}: differs by up to {difference:.1e} (allowed {ALLOWED[field]:.0e})")
    print(f"{mismatches} mismatches")
    return 1 if mismatches else 0


if __name__ == "__main__":
    sys.exit(main())
