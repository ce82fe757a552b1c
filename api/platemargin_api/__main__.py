"""``python -m platemargin_api`` is the command."""

from platemargin_api.command import main

if __name__ == "__main__":
    raise SystemExit(main())
