"""Every deed of the collection as it is offered: its verb, its form and its words."""

from django.utils.translation import gettext_lazy as _

from registry.animals.forms.arrivals import (
    AddTaxon,
    ImportAnimals,
    NameKeepers,
    OpenEnclosure,
    ReceiveAnimal,
    ReceiveGroup,
)
from registry.animals.forms.barring import (
    End,
    Restrict,
)
from registry.animals.forms.breeding import (
    BearYoung,
    CandleClutch,
    CandleEmbryo,
    EndCase,
    FindEmbryo,
    HatchClutch,
    HatchEmbryo,
    LoseEmbryo,
    MoveCase,
    NameParent,
    NameParentOfCase,
    RecordCase,
    ScanAnimal,
    StageEmbryo,
)
from registry.animals.forms.identity import MarkAnimal
from registry.animals.forms.lives import (
    CountGroup,
    DrawAnimal,
    JoinGroup,
    LeaveAnimal,
    LeaveGroup,
    MeasureAnimal,
    MergeGroup,
    MoveAnimal,
    MoveGroup,
    RecountGroup,
    SexAnimal,
    SplitGroup,
    Stage,
    TakeBack,
)
from registry.animals.forms.loans import OF_ANIMALS, OF_GROUPS
from registry.animals.forms.routines import AddRoutine, EndRoutine
from registry.animals.forms.undoing import UndoAnimal, UndoGroup, UndoIntake
from registry.permissions import Verb
from registry.web import Deed, deeds

ADD_TAXON = Deed(Verb.TAXON_ADD, AddTaxon, _("Add the taxon"), _("Which kind of animal is it?"))
OPEN_ENCLOSURE = Deed(
    Verb.ENCLOSURE_OPEN, OpenEnclosure, _("Open the enclosure"), _("Which enclosure is it?")
)
RECEIVE_ANIMAL = Deed(
    Verb.ANIMAL_RECEIVE,
    ReceiveAnimal,
    _("Receive the animal"),
    _("Which animal came?"),
    _("One that you can tell apart. A shoal, a clutch or a colony is received as a group."),
)
RECEIVE_GROUP = Deed(
    Verb.GROUP_RECEIVE,
    ReceiveGroup,
    _("Receive the group"),
    _("Which animals came?"),
    _("Animals that are counted and not told apart."),
)
RECORD_CASE = Deed(
    Verb.CASE_RECORD, RecordCase, _("Record the egg case"), _("Which egg case was laid?")
)

IMPORT = Deed(
    Verb.ANIMAL_IMPORT,
    ImportAnimals,
    _("Bring them in"),
    _("Which animals does your list hold?"),
    _("Send a list, and see what would become of each row. Nothing is written before you say so."),
)

_LEFT_HERE = _("Whoever does this is named in the ledger; nothing is deleted.")
_TAKEN_BACK = (
    TakeBack,
    _("Take back the newest event"),
    _("Was the newest event wrong?"),
    _LEFT_HERE,
)

ANIMAL_DEEDS = deeds(
    Deed(Verb.ANIMAL_RESTRICT, Restrict, _("Keep off this animal"), _("Keep off this animal")),
    Deed(Verb.ANIMAL_MOVE, MoveAnimal, _("Move"), _("Where does it live from now on?")),
    Deed(Verb.ANIMAL_MARK, MarkAnimal, _("Record a mark"), _("How do you tell it apart?")),
    Deed(Verb.ANIMAL_LEAVE, LeaveAnimal, _("Departed or died"), _("Has it departed or died?")),
    Deed(Verb.ANIMAL_MEASURE, MeasureAnimal, _("Record a measure"), _("What was measured of it?")),
    Deed(Verb.ANIMAL_SEX, SexAnimal, _("Record its sex"), _("Of which sex is it?")),
    Deed(Verb.ANIMAL_STAGE, Stage, _("Record its stage"), _("Which stage has it reached?")),
    Deed(Verb.ANIMAL_SCAN, ScanAnimal, _("Record a scan"), _("Did the scan find it pregnant?")),
    Deed(Verb.ANIMAL_BEAR, BearYoung, _("Record a birth"), _("What was born?")),
    Deed(Verb.ANIMAL_NAME_PARENT, NameParent, _("Name a parent"), _("Whose young one is it?")),
    *OF_ANIMALS,
    Deed(Verb.ANIMAL_JOIN, JoinGroup, _("Let it join a group"), _("Which group does it join?")),
    Deed(Verb.ANIMAL_TAKE_BACK, *_TAKEN_BACK),
    Deed(Verb.ANIMAL_UNDO, UndoAnimal, _("Never was here"), _("Was it never here?"), _LEFT_HERE),
)
GROUP_DEEDS = deeds(
    Deed(
        Verb.GROUP_RESTRICT,
        Restrict,
        _("Keep off this group"),
        _("Keep off this group"),
        _("Nobody can tell its animals apart, so what bars one bars all."),
    ),
    Deed(Verb.GROUP_COUNT, CountGroup, _("Change the number"), _("By how many did it change?")),
    Deed(Verb.GROUP_RECOUNT, RecountGroup, _("Count anew"), _("How many were counted?")),
    Deed(Verb.GROUP_MOVE, MoveGroup, _("Move"), _("Where do they live from now on?")),
    Deed(Verb.GROUP_STAGE, Stage, _("Record their stage"), _("Which stage have they reached?")),
    Deed(Verb.GROUP_DRAW, DrawAnimal, _("Draw an animal"), _("Which is told apart from now on?")),
    Deed(Verb.GROUP_SPLIT, SplitGroup, _("Split"), _("Who goes into a new group?")),
    Deed(Verb.GROUP_MERGE, MergeGroup, _("Merge"), _("Into which group do they go?")),
    Deed(Verb.GROUP_CANDLE, CandleClutch, _("Record fertile eggs"), _("How many are fertile?")),
    Deed(Verb.GROUP_HATCH, HatchClutch, _("Record a hatching"), _("How many hatched?")),
    Deed(Verb.GROUP_NAME_PARENT, NameParent, _("Name a parent"), _("Whose young are they?")),
    *OF_GROUPS,
    Deed(
        Verb.GROUP_LEAVE,
        LeaveGroup,
        _("All departed or died"),
        _("Have all that were left departed or died?"),
        _("If some stay, record a change of number instead."),
    ),
    Deed(Verb.GROUP_TAKE_BACK, *_TAKEN_BACK),
    Deed(Verb.GROUP_UNDO, UndoGroup, _("Never were here"), _("Were they never here?"), _LEFT_HERE),
)
ENCLOSURE_DEEDS = deeds(
    Deed(
        Verb.ENCLOSURE_RESTRICT,
        Restrict,
        _("Keep off this enclosure"),
        _("Keep off this enclosure"),
        _("It bars every animal that lives in it."),
    ),
    Deed(
        Verb.ENCLOSURE_ADD_ROUTINE,
        AddRoutine,
        _("Say what goes on here"),
        _("What goes on here every week?"),
    ),
    Deed(
        Verb.ENCLOSURE_END_ROUTINE,
        EndRoutine,
        _("It goes on no more"),
        _("What goes on here no more?"),
    ),
    Deed(
        Verb.ENCLOSURE_NAME_KEEPERS,
        NameKeepers,
        _("Name its keepers"),
        _("Who looks after it?"),
        _("They are written to at once when an animal of a study that lives here is kept off."),
    ),
)
INTAKE_DEEDS = deeds(
    Deed(Verb.INTAKE_UNDO, UndoIntake, _("Undo this list"), _("Undo all of it?"), _LEFT_HERE),
)
RESTRICTION_DEEDS = deeds(
    Deed(Verb.RESTRICTION_END, End, _("End it"), _("Is it free again?")),
)
CASE_DEEDS = deeds(
    Deed(Verb.CASE_STAGE, StageEmbryo, _("Record a stage"), _("Which stage was reached?")),
    Deed(Verb.CASE_CANDLE, CandleEmbryo, _("Fertile or not"), _("Was it found fertile?")),
    Deed(Verb.CASE_HATCH, HatchEmbryo, _("Record a hatching"), _("Which embryo hatched?")),
    Deed(Verb.CASE_LOSE, LoseEmbryo, _("Record a death"), _("Which embryo died?")),
    Deed(Verb.CASE_FIND, FindEmbryo, _("Add an embryo"), _("Was another embryo found?")),
    Deed(
        Verb.CASE_NAME_PARENT,
        NameParentOfCase,
        _("Name a parent"),
        _("Whose young is it?"),
        _("The dam laid the whole case; the sire belongs to one embryo."),
    ),
    Deed(Verb.CASE_MOVE, MoveCase, _("Move"), _("Where does it lie from now on?")),
    Deed(Verb.CASE_END, EndCase, _("Close its record"), _("Will nothing more come of it?")),
    Deed(Verb.CASE_TAKE_BACK, *_TAKEN_BACK),
)
