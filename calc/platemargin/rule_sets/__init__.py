"""The rule sets that ship with platemargin; each is a plug-in like anybody's."""
