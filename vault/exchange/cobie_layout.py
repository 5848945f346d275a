"""Sheets and columns of a COBie 2.4 workbook, and what is the same under several spellings.

Source: the sample workbooks of the buildingSMART community (Duplex and Clinic handover, CC BY 4.0); both have these columns.
"""

from __future__ import annotations

from collections.abc import Mapping

_MADE = ("Name", "CreatedBy", "CreatedOn")
_FROM = ("ExtSystem", "ExtObject", "ExtIdentifier")

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "Contact": ("Email", "CreatedBy", "CreatedOn", "Category", "Company", "Phone", "ExternalSystem", "ExternalObject",
                "ExternalIdentifier", "Department", "OrganizationCode", "GivenName", "FamilyName", "Street", "PostalBox", "Town",
                "StateRegion", "PostalCode", "Country"),
    "Facility": (*_MADE, "Category", "ProjectName", "SiteName", "LinearUnits", "AreaUnits", "VolumeUnits", "CurrencyUnit",
                 "AreaMeasurement", "ExternalSystem", "ExternalProjectObject", "ExternalProjectIdentifier",
                 "ExternalSiteObject", "ExternalSiteIdentifier", "ExternalFacilityObject", "ExternalFacilityIdentifier",
                 "Description", "ProjectDescription", "SiteDescription", "Phase"),
    "Floor": (*_MADE, "Category", *_FROM, "Description", "Elevation", "Height"),
    "Space": (*_MADE, "Category", "FloorName", "Description", *_FROM, "RoomTag", "UsableHeight", "GrossArea", "NetArea"),
    "Zone": (*_MADE, "Category", "SpaceNames", *_FROM, "Description"),
    "Type": (*_MADE, "Category", "Description", "AssetType", "Manufacturer", "ModelNumber", "WarrantyGuarantorParts",
             "WarrantyDurationParts", "WarrantyGuarantorLabor", "WarrantyDurationLabor", "WarrantyDurationUnit", *_FROM,
             "ReplacementCost", "ExpectedLife", "DurationUnit", "WarrantyDescription", "NominalLength", "NominalWidth",
             "NominalHeight", "ModelReference", "Shape", "Size", "Color", "Finish", "Grade", "Material", "Constituents",
             "Features", "AccessibilityPerformance", "CodePerformance", "SustainabilityPerformance"),
    "Component": (*_MADE, "TypeName", "Space", "Description", *_FROM, "SerialNumber", "InstallationDate", "WarrantyStartDate",
                  "TagNumber", "BarCode", "AssetIdentifier"),
    "System": (*_MADE, "Category", "ComponentNames", *_FROM, "Description"),
    "Spare": (*_MADE, "Category", "TypeName", "Suppliers", *_FROM, "Description", "SetNumber", "PartNumber"),
    "Attribute": (*_MADE, "Category", "SheetName", "RowName", "Value", "Unit", *_FROM, "Description", "AllowedValues"),
}

# Sheets that COBie has besides and of which nothing is taken.
OTHERS = ("Assembly", "Connection", "Coordinate", "Document", "Impact", "Instruction", "Introduction", "Issue", "Job",
          "PickLists", "Resource")

# Columns that name people: nothing of them is ever copied. A Contact is only counted.
OF_PEOPLE = frozenset({"createdby", "email", "givenname", "familyname", "phone", "suppliers", "warrantyguarantorparts",
                       "warrantyguarantorlabor"})

EMPTY = frozenset({"", "n/a"})  # "n/a" is what COBie writes where nothing is known

SYSTEM = "gearkeep"  # what we write into ExtSystem

_SAME = {"externalsystem": "extsystem", "externalobject": "extobject", "externalidentifier": "extidentifier",
         "spacename": "space", "componentname": "componentnames"}


def plain_column(heading: str) -> str:
    """A heading by which columns are compared: small letters, no blanks, one spelling of ExtSystem and its kin."""
    said = "".join(letter for letter in heading.casefold() if letter.isalnum())
    return _SAME.get(said, said)
