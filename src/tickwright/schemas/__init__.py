"""JSON Schemas: of the answers that commands give with --json, and of plan and brief files. Imports the tables.

`records` holds every record of the answers with its fields, `answers` makes the schema of them, `files` those of files.
"""

from tickwright.schemas.answers import ANSWERS_VERSION, answers_schema
from tickwright.schemas.files import brief_schema, plan_schema
from tickwright.schemas.records import COMMANDS, RECORDS, Field, fields_of

__all__ = [
    "ANSWERS_VERSION",
    "COMMANDS",
    "RECORDS",
    "Field",
    "answers_schema",
    "brief_schema",
    "fields_of",
    "plan_schema",
]
