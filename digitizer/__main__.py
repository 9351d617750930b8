"""``python -m digitizer`` does what the command ``digitizer`` does."""

from digitizer.cli.main import run

if __name__ == "__main__":
    run()
