"""`python -m pipelines`: the commands, where the folder of commands is not on the path."""

from pipelines.cli import main

main()
