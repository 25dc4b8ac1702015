"""Labels of plantings: what a label says, sheets to print on, as HTML with print CSS or as PDF."""

from service.labels.label import Label, labels_of, record_link
from service.labels.page import labels_html
from service.labels.pdf import NoPdf, NotInFont, labels_pdf
from service.labels.sheets import SHEETS, Sheet

__all__ = ["SHEETS", "Label", "NoPdf", "NotInFont", "Sheet", "labels_html", "labels_of", "labels_pdf", "record_link"]
