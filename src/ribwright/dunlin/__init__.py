"""The Dunlin: the fictional aeroplane of the demonstration, made by a seeded script.

Pure: numbers in, objects out. It knows the core alone; a service puts the objects into a project.
"""

from ribwright.dunlin.aeroplane import dunlin
from ribwright.dunlin.things import Thing

__all__ = ["Thing", "dunlin"]
