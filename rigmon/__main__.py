"""`python -m rigmon`: the command line."""

from rigmon.cli import main

main()
