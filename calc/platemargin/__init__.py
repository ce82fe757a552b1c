"""The engineering of platemargin: documented calculations on the plate of steel inland hulls, numpy in, dataclasses out."""
