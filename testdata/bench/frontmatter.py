"""Prints the sessions of a folder whose sulfate is over a bound: python3 frontmatter.py FOLDER BOUND"""
import multiprocessing
import os
import sys

import yaml

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def over(path, bound):
    with open(path, encoding="utf-8") as file:
        _, front, _ = file.read().split("---\n", 2)
    sulfate = yaml.load(front, LOADER)["readings"].get("sulfate")
    if not sulfate:
        return None
    value = float(sulfate["value"].split()[0]) * sulfate.get("dilution", 1)
    return path if value > bound else None


def main():
    folder, bound = sys.argv[1], float(sys.argv[2])
    paths = [os.path.join(at, name) for at, _, names in os.walk(folder) for name in names]
    with multiprocessing.Pool() as pool:
        for path in pool.starmap(over, ((path, bound) for path in paths), chunksize=500):
            if path:
                print(path)


if __name__ == "__main__":
    main()
