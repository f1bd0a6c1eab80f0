"""Developed runs -> horizontal courses: the other way to hang the sheet, which ``compare`` sets beside the drops.

Courses lie level, the lowest first, every upper one lapped over the one below. ``columns`` cuts the wall into what
must be covered over each station, ``things`` says what the seams between courses keep clear of, ``levels`` chooses
where the courses lie, ``stretches`` how far along the wall each goes, ``end_laps`` where its pieces meet, and ``lay``
makes one run of it all.
"""

from layout.courses.lay import CourseBox, Course, Coursing, lay_courses

__all__ = ["CourseBox", "Course", "Coursing", "lay_courses"]
