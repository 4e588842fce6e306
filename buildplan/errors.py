"""Errors that buildplan raises.

* BuildplanError            anything the user can act on
  - InputError              a value the user gave is impossible (also a ValueError)
    · MeshError             a part file cannot be used as a solid body
    · TableError            a table of feedstocks, printers, recipes ... is wrong
    · BuildFileError        a build file is wrong
  - NoPlanError             the request is valid but no plan satisfies it

An error means "cannot compute". What can be computed but should be looked at is a Finding, and is
returned, never raised. Every message says what is wrong, where, the number found and the number
allowed, and what to do.
"""


class BuildplanError(Exception):
    """Base of every error buildplan raises on purpose."""


class InputError(BuildplanError, ValueError):
    """A value given by the user is impossible."""


class MeshError(InputError):
    """A part file cannot be used as a solid body."""


class TableError(InputError):
    """A table of feedstocks, printers, recipes or hardware is wrong."""


class BuildFileError(InputError):
    """A build file is wrong."""


class NoPlanError(BuildplanError):
    """The request is valid but nothing satisfies it."""
