"""How much is held in memory of what is sent with photos: a body comes to disk, few at a time leave it."""

from __future__ import annotations

import asyncio

PATHS = ("/photo/add/", "/photo/gauge/", "/photos")
"""Where photos are sent."""
ROOM = asyncio.Semaphore(2)
"""Uploads that are held in memory and worked on at once; the others wait on disk, as they came."""
LARGEST_WORDS = 16_384
"""Bytes of a field beside the photo: fields are held in memory while the photo comes."""
