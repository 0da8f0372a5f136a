"""The job file: its models, its reading, its mistakes in plain sentences, its schema."""

from facade.job.model import Cap, DoorPattern, Edge, Fade, Fit, Job, Keep, Land, Shape
from facade.job.reading import make_job, read_job, with_lines

__all__ = [
    "Cap",
    "DoorPattern",
    "Edge",
    "Fade",
    "Fit",
    "Job",
    "Keep",
    "Land",
    "Shape",
    "make_job",
    "read_job",
    "with_lines",
]
