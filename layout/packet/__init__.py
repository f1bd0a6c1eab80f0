"""What the crew holds: plan.json, the cut list, the workbook, the phone packet, written as one folder."""

from layout.names import elevation_files
from layout.packet.cut_list import cut_list_csv
from layout.packet.folder import REJECTED, SUMS, sums_of, write_folder
from layout.packet.html import html
from layout.packet.order_list import order_csv
from layout.packet.plan_json import digest, plan_json
from layout.packet.summary import proof_words, summary_lines
from layout.packet.takeoff_list import takeoff_csv
from layout.packet.workbook import write_workbook

__all__ = [
    "REJECTED", "SUMS", "cut_list_csv", "digest", "elevation_files", "html", "order_csv", "plan_json", "proof_words",
    "summary_lines", "sums_of", "takeoff_csv", "write_folder", "write_workbook",
]
