"""The build sheet: what the builder carries to the tank, as PDF or as one HTML file.

scene -> bench (everything computed) and its pictures -> sheet (blocks) -> pages
"""

from sim.report.sheet.as_html import html_text
from sim.report.sheet.as_pdf import pdf_bytes
from sim.report.sheet.blocks import Sheet
from sim.report.sheet.gathering import Bench, gather
from sim.report.sheet.making import make_sheet, with_pictures
from sim.report.sheet.paper import PAPERS, Measures, Paper
from sim.report.sheet.pictures import Pictures, draw_pictures

__all__ = [
    "PAPERS",
    "Bench",
    "Measures",
    "Paper",
    "Pictures",
    "Sheet",
    "draw_pictures",
    "gather",
    "html_text",
    "make_sheet",
    "pdf_bytes",
    "with_pictures",
]
