"""Closed forms with their sources: wave shapes, line constants, electrodes, arrester laws.

Pure functions and small frozen records of SI floats. No circuit, no files, nothing but numpy.
"""
