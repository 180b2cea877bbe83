"""Imported once, by the process that workers are forked from: they then start with everything in place."""

import facemark.reading
import facemark.tell.files
import facemark.tell.lesson.jobs
import facemark.tell.overlay  # noqa: F401
