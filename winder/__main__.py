"""``python -m winder`` is the ``winder`` command."""

import sys

from winder.commands.main import main

if __name__ == "__main__":
    sys.exit(main())
