"""A job as a workbook: the form that people fill in, and how it is read.

``columns`` says what stands where, from the models of the job file; ``package`` opens a file with care; ``read`` makes
the tree that a YAML file would give, each value with its cell; ``write`` is its inverse.
"""

from layout.job.workbook.package import SUFFIXES, is_workbook
from layout.job.workbook.read import read_job_workbook
from layout.job.workbook.write import write_book

__all__ = ["SUFFIXES", "is_workbook", "read_job_workbook", "write_book"]
