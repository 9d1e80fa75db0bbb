"""Pages, pictures and files made of plans, traces and dossiers, without running an engine.

Imports the leaves and whatever comes before it in the order of imports, for its data; never an engine's `run`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.publish.canvas import Drawing, Group, Mark, svg_text
    from tickwright.publish.chart import Band, lap_chart, length_chart, timing_chart
    from tickwright.publish.claim_bands import bands_of_claims, claims_drawing, claims_places, run_bands
    from tickwright.publish.dossier_text import (
        Table,
        dossier_tables,
        expectation_lines,
        hold_text,
        missing_lines,
        press_text,
    )
    from tickwright.publish.drawing import layer_drawing, section_drawing
    from tickwright.publish.film import (
        Caption,
        Film,
        captions,
        gif_bytes,
        make_film,
        mp4_bytes,
        srt_text,
        talk_outline,
        vtt_text,
    )
    from tickwright.publish.flash import MOST_FLASHES, Flashing, flashing, frame_luminances, most_flashes, safe_slowdown
    from tickwright.publish.flat import flat_drawing, flat_views, lit_step
    from tickwright.publish.guide import guided_page
    from tickwright.publish.interactive import Design, interactive_sheet
    from tickwright.publish.isometric import CORNERS, isometric_drawing
    from tickwright.publish.legend import legend_drawing
    from tickwright.publish.model import glb_bytes
    from tickwright.publish.pdf import PAPERS, pdf_bytes, sheet_data
    from tickwright.publish.raster import font_note, png_bytes
    from tickwright.publish.scene import WEB_FOLDER, NumberedStands, packed_changes, scene_data
    from tickwright.publish.sentences import (
        Answer,
        answer,
        least_text,
        main_result,
        promises_passed,
        promises_text,
        reasons_data,
    )
    from tickwright.publish.shapes import Shape
    from tickwright.publish.sheet import (
        SheetFile,
        Style,
        lesson_files,
        make_lesson,
        make_sheet,
        make_together,
        sheet_files,
        together_files,
    )
    from tickwright.publish.sheet_pictures import sheet_charts
    from tickwright.publish.shown import FROM_EAST, FROM_SOUTH, cell_shapes, cell_side_shapes
    from tickwright.publish.site import make_site, site_files
    from tickwright.publish.symbols import side_symbol, symbol, wire_side_symbol, wire_symbol
    from tickwright.publish.tables import bill_csv, levels_csv
    from tickwright.publish.tokens import (
        FONT_FOLDER,
        THEMES,
        TOKENS,
        Theme,
        contrast,
        css_variables,
        font_face,
        level_colour,
        luminance,
    )
    from tickwright.publish.verilog import verilog_text
    from tickwright.publish.waveform import lanes, vcd_names, vcd_text

__all__ = [
    "CORNERS",
    "FONT_FOLDER",
    "FROM_EAST",
    "FROM_SOUTH",
    "MOST_FLASHES",
    "PAPERS",
    "THEMES",
    "TOKENS",
    "WEB_FOLDER",
    "Answer",
    "Band",
    "Caption",
    "Design",
    "Drawing",
    "Film",
    "Flashing",
    "Group",
    "Mark",
    "NumberedStands",
    "Shape",
    "SheetFile",
    "Style",
    "Table",
    "Theme",
    "answer",
    "bands_of_claims",
    "bill_csv",
    "captions",
    "cell_shapes",
    "cell_side_shapes",
    "claims_drawing",
    "claims_places",
    "contrast",
    "css_variables",
    "dossier_tables",
    "expectation_lines",
    "flashing",
    "flat_drawing",
    "flat_views",
    "font_face",
    "font_note",
    "frame_luminances",
    "gif_bytes",
    "glb_bytes",
    "guided_page",
    "hold_text",
    "interactive_sheet",
    "isometric_drawing",
    "lanes",
    "lap_chart",
    "layer_drawing",
    "least_text",
    "legend_drawing",
    "length_chart",
    "lesson_files",
    "level_colour",
    "levels_csv",
    "lit_step",
    "luminance",
    "main_result",
    "make_film",
    "make_lesson",
    "make_sheet",
    "make_site",
    "make_together",
    "missing_lines",
    "most_flashes",
    "mp4_bytes",
    "packed_changes",
    "pdf_bytes",
    "png_bytes",
    "press_text",
    "promises_passed",
    "promises_text",
    "reasons_data",
    "run_bands",
    "safe_slowdown",
    "scene_data",
    "section_drawing",
    "sheet_charts",
    "sheet_data",
    "sheet_files",
    "side_symbol",
    "site_files",
    "srt_text",
    "svg_text",
    "symbol",
    "talk_outline",
    "timing_chart",
    "together_files",
    "vcd_names",
    "vcd_text",
    "verilog_text",
    "vtt_text",
    "wire_side_symbol",
    "wire_symbol",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "sentences": (
            "Answer",
            "answer",
            "least_text",
            "main_result",
            "promises_passed",
            "promises_text",
            "reasons_data",
        ),
        "canvas": ("Drawing", "Group", "Mark", "svg_text"),
        "claim_bands": ("bands_of_claims", "claims_drawing", "claims_places", "run_bands"),
        "chart": ("Band", "lap_chart", "length_chart", "timing_chart"),
        "dossier_text": ("Table", "dossier_tables", "expectation_lines", "hold_text", "missing_lines", "press_text"),
        "drawing": ("layer_drawing", "section_drawing"),
        "film": (
            "Caption",
            "FONT_FOLDER",
            "Film",
            "captions",
            "gif_bytes",
            "make_film",
            "mp4_bytes",
            "srt_text",
            "talk_outline",
            "vtt_text",
        ),
        "flat": ("flat_drawing", "flat_views", "lit_step"),
        "flash": ("MOST_FLASHES", "Flashing", "flashing", "frame_luminances", "most_flashes", "safe_slowdown"),
        "guide": ("guided_page",),
        "interactive": ("Design", "interactive_sheet"),
        "isometric": ("CORNERS", "isometric_drawing"),
        "legend": ("legend_drawing",),
        "model": ("glb_bytes",),
        "pdf": ("PAPERS", "pdf_bytes", "sheet_data"),
        "raster": ("font_note", "png_bytes"),
        "scene": ("WEB_FOLDER", "NumberedStands", "packed_changes", "scene_data"),
        "shapes": ("Shape",),
        "shown": ("FROM_EAST", "FROM_SOUTH", "cell_shapes", "cell_side_shapes"),
        "sheet": (
            "SheetFile",
            "Style",
            "lesson_files",
            "make_lesson",
            "make_sheet",
            "make_together",
            "sheet_files",
            "together_files",
        ),
        "sheet_pictures": ("sheet_charts",),
        "site": ("make_site", "site_files"),
        "symbols": ("side_symbol", "symbol", "wire_side_symbol", "wire_symbol"),
        "tables": ("bill_csv", "levels_csv"),
        "tokens": (
            "FONT_FOLDER",
            "THEMES",
            "TOKENS",
            "Theme",
            "contrast",
            "css_variables",
            "font_face",
            "level_colour",
            "luminance",
        ),
        "verilog": ("verilog_text",),
        "waveform": ("lanes", "vcd_names", "vcd_text"),
    },
)
