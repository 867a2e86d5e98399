"""`python -m sim.cli` is `bedjoint`."""

from sim.cli import main

main()
