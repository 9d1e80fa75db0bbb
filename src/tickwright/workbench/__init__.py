"""The workbench: a local page on which a plan is laid, pressed, watched and judged.

A leaf: it uses what tickwright and its packages export. `document` and what it builds on know of no page; `guard` says
who may ask; `server` serves `page`, whose panels have a file each. NiceGUI is imported when `serve` is called.
"""

from tickwright.workbench.server import serve

__all__ = ["serve"]
