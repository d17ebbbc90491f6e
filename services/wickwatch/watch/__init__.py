"""The process that looks at the readings on a schedule and steps the alarms."""
