"""The stories of the invented animals: what was measured when, under what circumstances, and what came of it.

Levels are invented for the story that they tell. A day is counted back from today, so that the demo never grows old.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from quietlimb.engine.circumstances import Species
from quietlimb.simulator.series import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One session.

    days_ago  : from today
    systolic  : the level that it settles at, or stays at [mmHg]
    kind      : of the course through the session
    readings  : how many
    spoiled   : ordinals, from 1, of those that movement spoiled
    cuff      : by name
    recorded  : the simulator's scenario, where recordings were dropped instead of numbers typed
    reads_off : what the cuff or the site adds to every reading [mmHg]
    ending    : of the session; empty while it is open
    signed    : whether the veterinarian has signed it
    """

    days_ago: int
    systolic: float
    kind: Kind = "level"
    readings: int = 6
    spoiled: tuple[int, ...] = ()
    place: str = "consulting-room"
    position: str = "chest-down"
    site: str = "forelimb"
    side: str = "left"
    instrument: str = "grey box"
    cuff: str = "cuff 3"
    limb_cm: float | None = 8.0
    reads_off: float = 0.0
    recorded: str = ""
    settled_min: int | None = 8
    remarks: str = ""
    signs: str = ""
    ending: str = "closed"
    signed: bool = True
    eyes: str = ""
    kidneys: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One animal with its owner, its visits and what happened to its treatment (days ago -> what)."""

    name: str
    species: Species
    breed: str
    colour: str
    sex: str
    years: float
    owner: str
    visits: tuple[Visit, ...]
    remarks: str = ""
    events: Mapping[int, str] = field(default_factory=dict)
    illnesses: tuple[str, ...] = ()


STORIES: tuple[Story, ...] = (
    Story(
        name="Bramble",
        species="cat",
        breed="domestic shorthair",
        colour="black",
        sex="female neutered",
        years=13.2,
        owner="Ms Larkspur",
        remarks="wants the towel over her head",
        illnesses=("kidney-disease",),
        events={498: "started", 470: "stepped up", 96: "missed"},
        visits=(
            Visit(days_ago=712, systolic=148, kidneys="known disease"),
            Visit(days_ago=505, systolic=193, kind="fast-fall", readings=7, eyes="absent", kidneys="known disease"),
            Visit(days_ago=499, systolic=188, readings=7, eyes="present", signs="bumps into things in the dark"),
            Visit(days_ago=489, systolic=169, eyes="present"),
            Visit(days_ago=471, systolic=166, spoiled=(3,)),
            Visit(days_ago=461, systolic=149),
            Visit(days_ago=440, systolic=143, eyes="absent"),
            Visit(days_ago=349, systolic=141, kind="fast-fall"),
            Visit(days_ago=258, systolic=146),
            Visit(days_ago=166, systolic=139, kidneys="known disease"),
            Visit(days_ago=95, systolic=163, remarks="tablets forgotten over a long weekend"),
            Visit(days_ago=81, systolic=144),
        ),
    ),
    Story(
        name="Thistle",
        species="cat",
        breed="domestic shorthair",
        colour="grey tabby",
        sex="male neutered",
        years=9.5,
        owner="Mr Teasel",
        remarks="falls by a good 20 in the carrier if one waits",
        visits=(
            Visit(days_ago=600, systolic=151, kind="fast-fall", readings=8, place="carrier", settled_min=5),
            Visit(days_ago=411, systolic=149, kind="fast-fall", readings=8, place="carrier", settled_min=10),
            Visit(days_ago=410, systolic=136, place="home", settled_min=30),
            Visit(days_ago=203, systolic=153, kind="fast-fall", readings=8, place="carrier", settled_min=10),
            Visit(days_ago=34, systolic=150, kind="fast-fall", readings=7, place="carrier", recorded="undisturbed"),
        ),
    ),
    Story(
        name="Quince",
        species="cat",
        breed="Siamese",
        colour="seal point",
        sex="female neutered",
        years=15.8,
        owner="Ms Vetchling",
        visits=(
            Visit(days_ago=420, systolic=156),
            Visit(days_ago=0, systolic=191, readings=7, signed=False, signs="large pupils, bumped into the table"),
        ),
    ),
    Story(
        name="Moss",
        species="cat",
        breed="Maine Coon",
        colour="brown tabby",
        sex="male neutered",
        years=7.1,
        owner="Mr Campion",
        remarks="a large cat: the 4 cm cuff, not the 3",
        visits=(
            Visit(days_ago=301, systolic=140, cuff="cuff 3", limb_cm=11.5, reads_off=21, remarks="cuff sat loosely"),
            Visit(days_ago=287, systolic=141, cuff="cuff 4", limb_cm=11.5),
            Visit(days_ago=60, systolic=138, cuff="cuff 4", limb_cm=11.5),
        ),
    ),
    Story(
        name="Fennel",
        species="cat",
        breed="domestic shorthair",
        colour="ginger",
        sex="male neutered",
        years=4.3,
        owner="Ms Yarrow",
        remarks="bites; do not lift",
        visits=(
            Visit(
                days_ago=75, systolic=150, readings=0, ending="none obtained", signed=False, signs="hissing, struck out"
            ),
            Visit(days_ago=61, systolic=158, readings=3, spoiled=(1, 2), ending="had enough", signed=False),
        ),
    ),
    Story(
        name="Juniper",
        species="cat",
        breed="Persian",
        colour="white",
        sex="female",
        years=11.0,
        owner="Ms Larkspur",
        illnesses=("hyperthyroidism",),
        visits=(
            Visit(days_ago=390, systolic=152, instrument="crystal", cuff="cuff 2.5", site="forelimb", readings=7),
            Visit(days_ago=205, systolic=158, instrument="crystal", cuff="cuff 2.5", readings=7),
            Visit(days_ago=24, systolic=162, instrument="crystal", cuff="cuff 2.5", readings=7, kind="slow-fall"),
        ),
    ),
    Story(
        name="Sorrel",
        species="cat",
        breed="domestic longhair",
        colour="tortoiseshell",
        sex="female neutered",
        years=16.4,
        owner="Mr Woodruff",
        events={301: "started"},
        visits=(
            Visit(days_ago=315, systolic=176, eyes="absent"),
            Visit(days_ago=302, systolic=179, eyes="absent", readings=7),
            Visit(days_ago=288, systolic=151),
            Visit(days_ago=267, systolic=147),
        ),
    ),
    Story(
        name="Comfrey",
        species="dog",
        breed="Greyhound",
        colour="brindle",
        sex="male neutered",
        years=6.2,
        owner="Ms Bryony",
        visits=(
            Visit(days_ago=540, systolic=158, cuff="cuff 5", limb_cm=13.0, position="side-lying"),
            Visit(days_ago=176, systolic=155, cuff="cuff 5", limb_cm=13.0, position="side-lying"),
            Visit(days_ago=12, systolic=160, cuff="cuff 5", limb_cm=13.0, position="side-lying", signed=False),
        ),
    ),
    Story(
        name="Sedge",
        species="dog",
        breed="Great Dane",
        colour="fawn",
        sex="female neutered",
        years=7.7,
        owner="Mr Campion",
        visits=(
            Visit(
                days_ago=19,
                systolic=128,
                recorded="atrial-fibrillation",
                readings=6,
                cuff="cuff 6",
                limb_cm=16.0,
                position="side-lying",
                remarks="pulse without order",
            ),
        ),
    ),
    Story(
        name="Teasel",
        species="dog",
        breed="Jack Russell Terrier",
        colour="white and tan",
        sex="male",
        years=10.4,
        owner="Ms Yarrow",
        illnesses=("hyperadrenocorticism",),
        visits=(
            Visit(days_ago=480, systolic=157, cuff="cuff 4", limb_cm=10.5),
            Visit(days_ago=360, systolic=159, cuff="cuff 4", limb_cm=10.5),
            Visit(days_ago=240, systolic=156, cuff="cuff 4", limb_cm=10.5),
            Visit(days_ago=121, systolic=157, site="tail", side="", cuff="cuff 2.5", limb_cm=6.4, reads_off=-13),
            Visit(days_ago=31, systolic=158, site="tail", side="", cuff="cuff 2.5", limb_cm=6.4, reads_off=-13),
        ),
    ),
    Story(
        name="Burdock",
        species="dog",
        breed="Miniature Schnauzer",
        colour="pepper and salt",
        sex="male neutered",
        years=12.1,
        owner="Mr Woodruff",
        illnesses=("protein-loss",),
        events={330: "started", 215: "stepped up"},
        visits=(
            Visit(days_ago=344, systolic=182, cuff="cuff 4", limb_cm=10.0, kidneys="present", eyes="absent"),
            Visit(days_ago=318, systolic=171, cuff="cuff 4", limb_cm=10.0),
            Visit(days_ago=216, systolic=168, cuff="cuff 4", limb_cm=10.0, kidneys="present"),
            Visit(days_ago=202, systolic=156, cuff="cuff 4", limb_cm=10.0),
            Visit(days_ago=110, systolic=153, cuff="cuff 4", limb_cm=10.0),
        ),
    ),
    Story(
        name="Clover",
        species="dog",
        breed="Labrador Retriever",
        colour="yellow",
        sex="female neutered",
        years=8.0,
        owner="Ms Bryony",
        visits=(
            Visit(days_ago=370, systolic=142, cuff="cuff 5", limb_cm=14.0),
            Visit(days_ago=0, systolic=147, kind="slow-fall", readings=4, cuff="cuff 5", limb_cm=14.0, ending=""),
        ),
    ),
)
