"""`python -m trackersim` is the command line."""

from trackersim.cli import main

main()
