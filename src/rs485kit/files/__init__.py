"""Files: a bus as a plain mapping, and as TOML.

`bus_from_mapping` and `bus_to_mapping` serve any carrier of plain tables (a database, a service, another text
form); `load_bus` and `save_bus` read and write TOML with them, `load_policy` reads the judgement of a house.
`schema` describes the mapping to an editor.
"""

from rs485kit.files.json_schema import schema
from rs485kit.files.judgement import load_policy
from rs485kit.files.mapping import bus_from_mapping
from rs485kit.files.reading import load_bus
from rs485kit.files.writing import bus_to_mapping, save_bus

__all__ = ["bus_from_mapping", "bus_to_mapping", "load_bus", "load_policy", "save_bus", "schema"]
