"""``python -m surgesim`` is the same as the ``surgesim`` command."""

from surgesim.cli import main

main()
