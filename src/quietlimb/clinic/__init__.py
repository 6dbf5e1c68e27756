"""The clinic: a web application for the table, the desk and the inspection; thin over the rooms below it.

Read in this order: `configuration`, `settings`, `rights`, `people`, `animals`, `equipment`, `sessions`, `journal`,
`charting`, then the pages. A view says who may, what was asked, one call, which template.
"""
