"""`python -m sealtune` is the same as `sealtune`."""

from sealtune.cli.main import main

main()
