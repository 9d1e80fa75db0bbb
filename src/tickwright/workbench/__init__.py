"""The workbench: a local page on which a plan is laid, pressed, watched and judged.

A leaf: it uses what tickwright and its packages export. `document` and what it builds on know of no page; `guard` says
who may ask; the rest makes the pages.
"""
