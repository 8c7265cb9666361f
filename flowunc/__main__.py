"""Run ``python -m flowunc``: see `flowunc.bench.command`."""

import sys

from flowunc.bench.command import main

if __name__ == "__main__":
    sys.exit(main())
