"""The back office of a farrier's practice: one record, the visit, turned into everything else."""

__version__ = "0.1.0"
