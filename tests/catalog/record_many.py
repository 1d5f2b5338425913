"""Record photographs made by hand, one transaction each; see test_several_processes.

Run as ``python -m tests.catalog.record_many URL PICTURES BUNDLE WHO COUNT``: leaves that only this
process records, and leaves that every such process tries to record.
"""

from __future__ import annotations

import sys

from catalog.catalog import open_catalog
from catalog.records import BundleId
from tests.catalog.made_photos import a_photo, a_shot


def main() -> None:
    url, pictures, bundle, who, count = sys.argv[1:]
    with open_catalog(url, pictures=pictures, who=who) as catalog:
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.readline()
        for number in range(int(count)):
            for leaf in (f"{who}{number:03}", f"shared{number:03}"):
                catalog.record_photo(BundleId(int(bundle)), a_photo(a_shot(leaf)), listed=[leaf])


if __name__ == "__main__":
    main()
