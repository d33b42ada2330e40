"""The library of standard sequences: its format, reader, resolution, lints and limits.

Pure Python: no models, no database, no clock. The front door is `coordination.sequence.standard`.
"""
