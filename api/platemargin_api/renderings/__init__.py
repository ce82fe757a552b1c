"""Answers to be looked at: what a calculation's `renderings` are built from, ours or a third party's.

Each picture and the report is a module of its own; `words`, `svg`, `colours` and `axes` are what they share. Nothing here
calculates: every figure comes from the answer, and is written as `platemargin.quantities.text` writes it.
"""
