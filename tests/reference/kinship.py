#!/usr/bin/env python3
"""Writes kinship.csv: kinship of plants by sgkit, to hold the book's tabular method against.

    python3 -m venv v && v/bin/pip install sgkit==0.10.0 && v/bin/python kinship.py > kinship.csv

sgkit's `pedigree_kinship` with method="diploid" is an independent implementation (it lets a plant be both parents).
"""

import sys

import numpy as np
import sgkit
import xarray

# The six calves of Mrode, Linear Models for the Prediction of Animal Breeding Values, section 2.2.
MRODE = [("1", "", ""), ("2", "", ""), ("3", "1", "2"), ("4", "1", ""), ("5", "4", "3"), ("6", "5", "2")]


def drawn(seed, founders, offspring, selfing):
    """A pedigree drawn at random: some parents unknown, some plants selfed."""
    random = np.random.default_rng(seed)
    plants = [(f"f{n}", "", "") for n in range(founders)]
    for n in range(offspring):
        known = [plant for plant, _, _ in plants]
        mother, father = random.choice(known, 2)
        if random.random() < selfing:
            father = mother
        if random.random() < 0.15:
            father = ""
        plants.append((f"p{n}", str(mother), str(father)))
    return plants


def kinship(plants):
    number = {plant: place for place, (plant, _, _) in enumerate(plants)}
    parents = [[number.get(mother, -1), number.get(father, -1)] for _, mother, father in plants]
    data = xarray.Dataset()
    data["sample_id"] = "samples", [plant for plant, _, _ in plants]
    data["parent"] = ["samples", "parents"], parents
    return sgkit.pedigree_kinship(data, method="diploid", allow_half_founders=True)["stat_pedigree_kinship"].values


def main():
    print(
        f"""# Coefficients of kinship (coancestry), by sgkit {sgkit.__version__} (PyPI), pedigree_kinship, method diploid, numpy {np.__version__};
# written by tests/reference/kinship.py. A row a pair of plants, with the parents of the second (empty: unknown).
# pedigree `mrode`: the example of Mrode, Linear Models for the Prediction of Animal Breeding Values (3rd edition 2014), section
# 2.2, whose numerator relationship matrix is twice these values. The others are drawn at random, with selfings.""")
    print("pedigree,one,other,mother,father,kinship")
    cases = {"mrode": MRODE, "house": drawn(1, 4, 20, 0.1), "selfed": drawn(2, 3, 16, 0.4)}
    for name, plants in cases.items():
        matrix = kinship(plants)
        for place, (plant, mother, father) in enumerate(plants):
            for other in range(place + 1):
                print(f"{name},{plants[other][0]},{plant},{mother},{father},{float(matrix[other, place])!r}")


main()
