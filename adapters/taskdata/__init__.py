"""Tasks to and from the terminals of tractors: TASKDATA of ISO 11783-10, version 4."""

from adapters.taskdata.read import read_taskdata
from adapters.taskdata.records import CountedTask, PlannedTask, Rate, TaskFile, TaskGround
from adapters.taskdata.write import taskdata_xml, write_taskdata

__all__ = [
    "CountedTask", "PlannedTask", "Rate", "TaskFile", "TaskGround", "read_taskdata", "taskdata_xml", "write_taskdata",
]  # fmt: skip
