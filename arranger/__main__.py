"""`python -m arranger`: the same as the command `arranger`."""

import sys

from arranger.cli import main

if __name__ == "__main__":
    sys.exit(main())
