"""Files of readings through an elementwise calculation, and what they say of each hull (the extra ``portfolio``).

An input file is the unit of work: it is answered as a whole, by whichever process, into files that are named when they are
whole. What is in memory is a block of rows and a line for each hull.
"""
