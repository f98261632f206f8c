"""What a building model must hold to be read well, as an IDS file for any checker of models.

buildingSMART Information Delivery Specification 1.0. It is made from what the importer reads: its
classes of elements and the fields that it looks for. Written by ifctester, another's library.
"""

from __future__ import annotations

from typing import Any

from ifctester import facet, ids

from layoutcheck.importers.ifc.kinds import CLASSES, Role

VERSIONS = ["IFC4", "IFC4X3_ADD2"]
COMMON = "Pset_PipeSegmentTypeCommon"
LENGTH = "IFCPOSITIVELENGTHMEASURE"


def names(*roles: Role) -> list[str]:
    """Give the classes of some roles as IDS writes them."""
    return [name.upper() for role in roles for name in CLASSES[role].split()]


def spec(name: str, why: str, classes: list[str], wanted: list[Any], least: int = 0) -> Any:
    made = ids.Specification(
        name=name, minOccurs=least, ifcVersion=VERSIONS, description=why, identifier=None
    )
    one = classes[0] if len(classes) == 1 else facet.Restriction({"enumeration": classes})
    made.applicability.append(facet.Entity(name=one))
    made.requirements = wanted
    return made


def wanted_ids() -> bytes:
    """Write the IDS file."""
    asked = ids.Ids(
        title="A model to plan freeze plugs from",
        description="What a building model must tell of its piping, to judge a freeze by.",
        purpose="Check a model before it is sent",
    )
    flows = names(Role.PIPE, Role.FITTING, Role.VALVE, Role.PUMP)
    nominal = facet.Property(COMMON, "NominalDiameter", dataType=LENGTH)
    outer = facet.Property(COMMON, "OuterDiameter", dataType=LENGTH, cardinality="optional")
    inner = facet.Property(COMMON, "InnerDiameter", dataType=LENGTH, cardinality="optional")
    asked.specifications = [
        spec(
            "Pipes have a nominal size",
            "Setbacks, ice and coolant go by the size of each pipe.",
            names(Role.PIPE),
            [nominal, outer, inner],
            least=1,
        ),
        spec(
            "Pipes say what they are made of",
            "The cold makes some walls brittle.",
            names(Role.PIPE),
            [facet.Material()],
        ),
        spec(
            "Piping belongs to a system",
            "A system is what is read, and what crews name.",
            flows,
            [facet.PartOf("IFCDISTRIBUTIONSYSTEM", relation="IFCRELASSIGNSTOGROUP")],
        ),
        spec(
            "Piping has names",
            "A crew must find on site what a plan names.",
            flows,
            [facet.Attribute("Name")],
        ),
        spec(
            "Valves say what kind they are",
            "A check valve is no barrier, and ice pushes against it.",
            names(Role.VALVE),
            [facet.Attribute("PredefinedType")],
        ),
        spec(
            "Ports say which way water may go",
            "Ports that are connected make the network; without them it is guessed from geometry.",
            ["IFCDISTRIBUTIONPORT"],
            [facet.Attribute("FlowDirection")],
            least=1,
        ),
    ]
    text = asked.to_string()
    return (text.strip() + "\n").encode()
