"""Compares two results of bench_whole, or of bench_parts (Google Benchmark JSON): ratio new / old per entry.

    python3 tests/bench/compare.py OLD.json NEW.json [--worse-percent 5]

Exit status 1 when an entry got slower, or its peak memory larger, by more than the allowance; 2 when nothing compares.
"""
import argparse
import json


def entries(path):
    """{name: {what: value}}; smaller is better for each."""
    with open(path, encoding="utf-8") as file:
        results = json.load(file)
    if results.get("format") == "hairline-benchmark":
        return {entry["name"]: {"CPU ms per layer": entry["layer_ms"], "peak MB": entry["peak_mb"]}
                for plate in results["plates"] for entry in plate["entries"]}
    return {run["name"]: {"CPU ms per layer": run["ms_per_layer"]}
            for run in results["benchmarks"] if run.get("run_type", "iteration") == "iteration"}


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("old")
    options.add_argument("new")
    options.add_argument("--worse-percent", type=float, default=5)
    given = options.parse_args()
    old, new = entries(given.old), entries(given.new)
    shared = [name for name in old if name in new]
    if not shared:
        print("the two results have no entry in common")
        return 2
    worse = 0
    for name in shared:
        for what, before in old[name].items():
            after = new[name][what]
            ratio = after / before if before > 0 else float(after > 0)
            flag = ratio > 1 + given.worse_percent / 100
            worse += flag
            print(f"{name:<64} {what:<17} {before:10.3f} -> {after:10.3f}  {ratio:6.3f}{'  WORSE' if flag else ''}")
    for name in sorted(set(old) ^ set(new)):
        print(f"{name}: only in {given.old if name in old else given.new}")
    print(f"{worse} worse by more than {given.worse_percent:g} %")
    return 1 if worse else 0


if __name__ == "__main__":
    raise SystemExit(main())
