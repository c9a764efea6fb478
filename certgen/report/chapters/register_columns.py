"""Which fields of a table have a column of their own in its register, and how wide it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class FieldColumn:
    """A column of a register: its heading, the fields it joins, its part of the width."""

    title: str
    fields: tuple[str, ...]
    share: float = 1.0
    kind: str = "text"


#: By table. One that isn't here shows its first fields.
COLUMNS: Final[dict[str, tuple[FieldColumn, ...]]] = {
    "blocks": (
        FieldColumn("Block", ("block",)),
        FieldColumn("Name", ("name",), 2),
        FieldColumn("Status", ("status",)),
        FieldColumn("Organic since", ("organic_since",)),
        FieldColumn("Last prohibited", ("last_prohibited_substance",), 1.2),
        FieldColumn("Area", ("area",), 1, "number"),
        FieldColumn("Boundary and buffer", ("boundary", "buffer"), 3),
        FieldColumn("Nearest same crop", ("nearest_same_crop",)),
    ),
    "plantings": (
        FieldColumn("Planting", ("planting",)),
        FieldColumn("Block", ("block",)),
        FieldColumn("Variety", ("variety",), 1.5),
        FieldColumn("Planted", ("planted",)),
        FieldColumn("Material", ("material", "material_status"), 1.6),
        FieldColumn("Origin", ("origin.lot", "origin.supplier", "origin.certificate"), 2),
        FieldColumn("Generation", ("generation",), 0.6, "number"),
    ),
    "trees": (
        FieldColumn("Tree", ("tree",)),
        FieldColumn("Planting", ("planting",)),
        FieldColumn("Row", ("row",), 0.6),
        FieldColumn("Place", ("position",), 0.6),
        FieldColumn("Sex", ("sex",), 1.2),
        FieldColumn("Removed", ("removed", "removed_because"), 2),
    ),
    "observations": (
        FieldColumn("Observation", ("observation",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Trees", ("trees",), 1.6),
        FieldColumn("Seen", ("kind", "seen", "sex"), 3),
        FieldColumn("Decision", ("decision", "because"), 2.4),
        FieldColumn("By", ("by",)),
    ),
    "screening": (
        FieldColumn("Sample", ("sample",)),
        FieldColumn("Tree", ("tree", "trees"), 1.2),
        FieldColumn("Mark", ("mark",)),
        FieldColumn("Collected", ("collected",)),
        FieldColumn("Method and targets", ("method", "targets"), 1.6),
        FieldColumn("Controls", ("controls",)),
        FieldColumn("Result", ("result",), 1.1),
        FieldColumn("Laboratory and report", ("laboratory", "report", "reported"), 2.4),
    ),
    "bagging": (
        FieldColumn("Bag", ("bag",)),
        FieldColumn("Tree", ("tree",)),
        FieldColumn("Covered", ("covered",)),
        FieldColumn("Tag says", ("tag.date", "tag.variety", "tag.tree"), 1.8),
        FieldColumn("Flower", ("flower", "stage"), 1.5),
        FieldColumn("Care", ("other_buds_cleared", "secured", "bag_use"), 1.8),
        FieldColumn("Checks", ("checks",), 1.3),
        FieldColumn("Uncovered", ("uncovered",)),
        FieldColumn("Outcome", ("outcome", "fruit_marked"), 1.2),
    ),
    "harvests": (
        FieldColumn("Picking", ("harvest",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Bags", ("bags",), 3),
        FieldColumn("Trees", ("trees",)),
        FieldColumn("Fruit", ("fruits",), 0.6, "number"),
        FieldColumn("Weight", ("weight",), 0.8, "number"),
        FieldColumn("Stage", ("stage",)),
        FieldColumn("Status", ("status",)),
        FieldColumn("Ripening", ("ripening.temperature", "ripening.until", "ripening.colour"), 1.5),
    ),
    "batches": (
        FieldColumn("Batch", ("batch",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Pickings", ("harvests",), 1.5),
        FieldColumn("Status", ("status",)),
        FieldColumn("Equipment", ("equipment", "blade", "runs"), 2),
        FieldColumn("Rinses", ("fermentation", "rinses", "floats", "floated_off"), 1),
        FieldColumn("Wet", ("wet_weight",), 0.8, "number"),
        FieldColumn("Drying", ("drying.method", "drying.temperature", "drying.from", "drying.to"), 1.6),
        FieldColumn("Dry", ("dry_weight",), 0.8, "number"),
        FieldColumn("Moisture", ("moisture",), 0.7, "number"),
    ),
    "cleaning": (
        FieldColumn("Cleaning", ("cleaning",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Equipment", ("equipment",), 2.4),
        FieldColumn("How", ("method",), 2.4),
        FieldColumn("Before batch", ("before",)),
    ),
    "lots": (
        FieldColumn("Lot", ("lot",)),
        FieldColumn("Variety", ("variety",), 1.2),
        FieldColumn("Packed", ("packed",)),
        FieldColumn("From", ("sources",), 1.8),
        FieldColumn("Weight", ("weight",), 0.8, "number"),
        FieldColumn("Status", ("status",)),
        FieldColumn("Packing", ("containers", "packaging", "container_use"), 1.8),
        FieldColumn("Storage", ("storage",)),
        FieldColumn("Label says", ("label.lot", "label.variety", "label.status", "label.germination"), 1.8),
    ),
    "tests": (
        FieldColumn("Test", ("test",)),
        FieldColumn("Lot", ("lot",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Kind", ("kind",)),
        FieldColumn(
            "Figures",
            ("replicates", "per_replicate", "moisture", "weighings", "pure", "other", "inert", "pools"),
            2.6,
        ),
        FieldColumn("How", ("temperature", "substrate", "counts"), 2),
        FieldColumn("Laboratory and report", ("laboratory", "report"), 1.8),
    ),
    "movements": (
        FieldColumn("Movement", ("movement",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Lot", ("lot",)),
        FieldColumn("Kind", ("kind",)),
        FieldColumn("Weight", ("weight",), 0.8, "number"),
        FieldColumn("Party", ("party",), 2),
        FieldColumn("Document", ("document",)),
        FieldColumn("Planting", ("planting",)),
    ),
    "materials": (
        FieldColumn("Number", ("material",)),
        FieldColumn("Material", ("name", "maker", "composition"), 2),
        FieldColumn("Kind", ("kind",), 1.2),
        FieldColumn("Approved by", ("approved_by", "paper"), 2),
        FieldColumn("From", ("from",)),
        FieldColumn("Until", ("until",)),
        FieldColumn("Condition", ("condition", "blocks", "purposes"), 2),
        FieldColumn("Label", ("reentry_interval", "days_to_harvest"), 1.2),
    ),
    "compost": (
        FieldColumn("Heap", ("heap",)),
        FieldColumn("Begun", ("begun",)),
        FieldColumn("Made of", ("ingredients",), 2.4),
        FieldColumn("Method", ("method",), 1.2),
        FieldColumn("Turned", ("turnings",), 1.8),
        FieldColumn("Temperatures", ("temperatures",), 2.6),
        FieldColumn("Ready", ("ready",)),
    ),
    "inputs": (
        FieldColumn("Input", ("input",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Block", ("block",)),
        FieldColumn("Material", ("material", "heap"), 1.6),
        FieldColumn("Purpose and rate", ("purpose", "rate"), 1.8),
        FieldColumn("Allowed by", ("approval", "allowed_by", "condition_met"), 1.8),
        FieldColumn("Supplier", ("supplier",), 1.2),
    ),
    "scouting": (
        FieldColumn("Walk", ("scouting",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Block", ("block",)),
        FieldColumn("Found", ("pest", "found"), 2.2),
        FieldColumn("Done", ("done",), 3),
        FieldColumn("By", ("by",)),
    ),
    "water_tests": (
        FieldColumn("Test", ("water_test",)),
        FieldColumn("Drawn", ("date",)),
        FieldColumn("Source", ("source", "used_for"), 2),
        FieldColumn("Laboratory and report", ("laboratory", "report"), 1.8),
        FieldColumn("Found", ("found", "fit", "action"), 2.6),
    ),
    "visits": (
        FieldColumn("Visit", ("visit",)),
        FieldColumn("Days", ("from", "to")),
        FieldColumn("Kind", ("kind",)),
        FieldColumn("Inspector", ("inspector", "certifier"), 1.6),
        FieldColumn("Findings", ("findings",), 3),
    ),
    "incidents": (
        FieldColumn("Incident", ("incident",)),
        FieldColumn("Date", ("date",)),
        FieldColumn("Kind", ("kind",)),
        FieldColumn("About", ("about",), 1.5),
        FieldColumn("Action", ("action",), 3),
        FieldColumn("Closed", ("closed",)),
        FieldColumn("Certifier told", ("certifier_notified",)),
    ),
    "recalls": (
        FieldColumn("Recall", ("recall",)),
        FieldColumn("Opened", ("opened", "started", "ended"), 1.2),
        FieldColumn("About", ("about",), 1.2),
        FieldColumn("Kind and reason", ("kind", "reason", "decided_by"), 2),
        FieldColumn("Who was told, and what came back", ("notices",), 4),
        FieldColumn("Closed", ("closed",)),
        FieldColumn("Certifier told", ("certifier_notified",)),
    ),
    "explanations": (
        FieldColumn("Rule", ("rule",), 1.4),
        FieldColumn("About", ("about",), 1.4),
        FieldColumn("Reason", ("reason",), 4),
        FieldColumn("By", ("by",)),
        FieldColumn("Date", ("date",)),
    ),
}
