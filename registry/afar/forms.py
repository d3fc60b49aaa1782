"""The input of each deed on animals that are away or gone."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from registry.afar import actions
from registry.afar.models import Custody, Dossier, News
from registry.animals.forms.fields import LOCAL_CODES
from registry.animals.models import Enclosure, Precision
from registry.choices import RowField
from registry.people.models import Institution, Person
from registry.permissions import Verb
from registry.projects.models import Project
from registry.web import Deed, DeedForm, Words, day_field, deeds, reason_field


def _words(label: Words, help_text: Words = "", *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        required=required,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class GiveCustody(DeedForm):
    """Who keeps it for how long, where, and who answers for it there."""

    caution = format_lazy(
        "{} {}",
        _(
            "Whether it may travel is for the veterinary surgeon to say: not while it is treated, "
            "in quarantine, newly arrived or late in its pregnancy. Whoever keeps animals for "
            "research may need a licence for the place, and whoever carries them for the way."
        ),
        LOCAL_CODES,
    )
    holder = RowField(Institution.objects.all(), label=_("Who keeps it"))
    place = forms.CharField(
        label=_("Where there"), max_length=120, help_text=_("The room and the tank.")
    )
    answerable = RowField(
        Person.objects.real(),
        label=_("Who answers for it there"),
        help_text=_("Whom keepers and the veterinary surgeon call, day and night."),
    )
    project = RowField(
        Project.objects.all(),
        label=_("For which project"),
        required=False,
        empty_label=_("for none"),
    )
    began_on = day_field(_("Goes on"), is_today=True)
    expected_end_on = day_field(_("Expected back on"))
    why = _words(_("Why"))
    vets_word = _words(
        _("A veterinary surgeon’s word"),
        _("Only where it is not fit to travel and goes all the same: who allowed it, and why."),
    )

    def act(self) -> Custody:
        """Give it."""
        return actions.give_custody(self.subject, **self.cleaned_data, by=self.by)


class EndCustody(DeedForm):
    """How it ended, and when."""

    outcome = forms.ChoiceField(
        choices=Custody.Outcome,
        label=_("What became of it"),
        initial=Custody.Outcome.RETURNED,
        widget=forms.RadioSelect,
        help_text=_("A death or a departure is recorded on the animal’s own page first."),
    )
    ended_on = day_field(_("On"), is_today=True)
    enclosure = RowField(
        Enclosure.objects.all(),
        label=_("Lives in, now that it is back"),
        required=False,
        empty_label=_("it is not back"),
    )
    end_note = _words(_("Note"), _("Its state when it came back, as far as it was looked at."))

    def fit(self) -> None:
        """Begin with where it lived before it went."""
        before = self.subject.subject.events.placing().filter(enclosure__isnull=False).last()
        self.fields["enclosure"].initial = before.enclosure_id if before else None

    def act(self) -> Custody:
        """End it."""
        return actions.end_custody(self.subject, **self.cleaned_data, by=self.by)


class WriteDossier(DeedForm):
    """To whom it goes."""

    intro = _(
        "The dossier says who it is, how it is told apart, where it lived, what stands on it, what "
        "research it went through and where the data lie, as the register has it at this moment. "
        "It is kept as it is; if something changes before it goes, write another."
    )
    caution = format_lazy(
        "{} {}",
        _(
            "A dossier is no certificate of health and no permit. What papers the way and the "
            "border ask for, the veterinary surgeon and the authority say."
        ),
        LOCAL_CODES,
    )
    receiver = forms.CharField(
        label=_("Who receives it"), max_length=200, help_text=_("The collection or the person.")
    )

    def act(self) -> Dossier:
        """Write it."""
        return actions.write_dossier(self.subject, **self.cleaned_data, by=self.by)


class HearNews(DeedForm):
    """What was heard, of whom, from whom, and how well its day is known."""

    sort = forms.ChoiceField(choices=News.Sort, label=_("What was heard"), widget=forms.RadioSelect)
    follows = RowField(
        News.objects.none(),
        label=_("Of whom"),
        required=False,
        help_text=_("Choose a birth to tell of the young that were born then."),
    )
    happened_on = day_field(_("When it happened"))
    precision = forms.ChoiceField(
        choices=Precision,
        label=_("How exactly that is known"),
        initial=Precision.DAY,
        help_text=_("Where only the month or the year is known, give any day in it."),
    )
    number = forms.IntegerField(
        label=_("How many young"),
        min_value=1,
        max_value=10_000_000,
        required=False,
        help_text=_("Born; or of the young, how many died or moved on."),
    )
    where = forms.CharField(
        label=_("Where"), max_length=200, help_text=_("The collection that it is about.")
    )
    told_by = forms.CharField(
        label=_("Who told it"), max_length=200, help_text=_("A name, and how: by letter, by call.")
    )
    said = _words(_("In their words"))

    def fit(self) -> None:
        """Offer the births that were told of this one and of its young."""
        field: Any = self.fields["follows"]
        field.queryset = self.subject.news.filter(sort=News.Sort.BRED, state="told")
        field.empty_label = str(self.subject)
        field.label_from_instance = _birth

    def act(self) -> News:
        """Record it."""
        return actions.hear_news(self.subject, **self.cleaned_data, by=self.by)


def _birth(news: News) -> str:
    return str(
        _("%(number)s young, born %(year)s, %(where)s")
        % {"number": news.number, "year": news.happened_on.year, "where": news.where}
    )


class TakeBackNews(DeedForm):
    """Why the news was wrong."""

    reason = reason_field(_("What was wrong"), _("It stays readable, with what was taken back."))

    def act(self) -> News:
        """Take it back."""
        return actions.take_back_news(self.subject, **self.cleaned_data, by=self.by)


_GIVEN = (
    GiveCustody,
    _("Give into custody"),
    _("Who keeps it for a while?"),
    _("It stays an animal of this collection: it is away, and has not left."),
)
_WRITTEN = (WriteDossier, _("Write its dossier"), _("What goes with it?"))
_HEARD = (HearNews, _("Record news of it"), _("What have you heard of it?"))

ANIMAL_DEEDS = deeds(
    Deed(Verb.ANIMAL_GIVE_CUSTODY, *_GIVEN),
    Deed(Verb.ANIMAL_WRITE_DOSSIER, *_WRITTEN),
    Deed(Verb.ANIMAL_HEAR_NEWS, *_HEARD),
)
CASE_DEEDS = deeds(
    Deed(
        Verb.CASE_GIVE_CUSTODY,
        GiveCustody,
        _("Give into custody"),
        _("Who keeps it for a while?"),
        _("It stays an egg case of this collection: it is away, and its record goes on."),
    ),
)
GROUP_DEEDS = deeds(
    Deed(Verb.GROUP_GIVE_CUSTODY, *_GIVEN),
    Deed(Verb.GROUP_WRITE_DOSSIER, *_WRITTEN),
    Deed(Verb.GROUP_HEAR_NEWS, *_HEARD),
)
CUSTODY_DEEDS = deeds(
    Deed(Verb.CUSTODY_END, EndCustody, _("End the custody"), _("Is it back?")),
)
NEWS_DEEDS = deeds(
    Deed(Verb.NEWS_TAKE_BACK, TakeBackNews, _("Take it back"), _("Was the news wrong?")),
)
