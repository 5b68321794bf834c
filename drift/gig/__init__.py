"""The outdoor performance: weather, timetable and roster in, the plan of the slides out."""
