"""A rule set comes in as the zip or the JSON text that the export gives; a draft is published with a note."""

from typing import IO, Any, cast

from crispy_forms.layout import Layout
from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from consults.models.rules import RulesDraft
from consults.rules.bundle import MAX_ZIP_BYTES, read_upload, ruleset_of
from consults.rules.tables import Tables
from consults.ruleset.errors import Problem, RulesetError
from consults.ruleset.loader import MAX_JSON_BYTES, Ruleset
from garden.forms import desk_helper

_SHOWN = 100


class _FileForm(forms.Form):
    file = forms.FileField(
        label=_("File with the rules"),
        help_text=_("The zip or the JSON file that the export gives, as you have changed it. At most 8 MB."),
        widget=forms.ClearableFileInput(attrs={"accept": ".zip,.json,application/zip,application/json"}),
        error_messages={
            "required": _("Choose the file with the rules."),
            "empty": _("This file is empty. Export the rules and start from that file."),
        },
    )
    button: Any = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.problems: tuple[Problem, ...] = ()
        self.problems_left = 0
        self.helper = desk_helper(button=self.button, tag=False)

    def read(self) -> Tables:
        """The tables in the file; what is wrong with it is kept in `problems`."""
        upload: UploadedFile[Any] = self.cleaned_data["file"]
        most = MAX_ZIP_BYTES if upload.read(2) == b"PK" else MAX_JSON_BYTES
        upload.seek(0)
        if upload.size is not None and upload.size > most:
            raise ValidationError(
                _("This file is larger than %(size)d MB. Rules are text only; export them again.")
                % {"size": most // 1_000_000}
            )
        try:
            return read_upload(cast(IO[bytes], upload.file))
        except RulesetError as error:
            raise self.refused(error) from None

    def refused(self, error: RulesetError) -> ValidationError:
        """The sentence over the list of problems."""
        self.problems = error.problems[:_SHOWN]
        self.problems_left = len(error.problems) - len(self.problems)
        return ValidationError(self.sentence(len(error.problems)) % {"count": len(error.problems)})

    def sentence(self, count: int) -> str:
        """That so many things are to be mended."""
        return ngettext(
            "The draft is as it was: %(count)d thing in this file is to be mended, listed below.",
            "The draft is as it was: %(count)d things in this file are to be mended, listed below.",
            count,
        )


class RulesetForm(_FileForm):
    """Rules published at once: they must be whole."""

    note = forms.CharField(
        label=_("What changed"),
        max_length=300,
        required=False,
        help_text=_("One sentence for those who ask later."),
    )
    button = _("Check and publish")

    def clean_file(self) -> Ruleset:
        try:
            return ruleset_of(self.read())
        except RulesetError as error:
            raise self.refused(error) from None

    def sentence(self, count: int) -> str:
        return ngettext(
            "Nothing was published: %(count)d thing is to be mended, listed below.",
            "Nothing was published: %(count)d things are to be mended, listed below.",
            count,
        )


class DraftFileForm(_FileForm):
    """Rules put into the draft: entries must be whole, what does not fit together is mended there."""

    revision = forms.IntegerField(widget=forms.HiddenInput)
    button = _("Put it into the draft")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # Three forms share the page of the draft: each label must find its own field.
        super().__init__(*args, **{"auto_id": "file_%s", **kwargs})

    def clean_file(self) -> Tables:
        return self.read()


class PublishForm(forms.Form):
    """What changes and why, and what exactly the manager looked at."""

    note = forms.CharField(
        label=_("What changes and why"),
        max_length=300,
        help_text=_("One sentence for those who ask later."),
        error_messages={"required": _("Say in a sentence what changes and why.")},
    )
    revision = forms.IntegerField(widget=forms.HiddenInput)
    in_force = forms.CharField(widget=forms.HiddenInput, max_length=12)

    def __init__(self, *args: Any, draft: RulesDraft, in_force: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "publish_%s", **kwargs})
        self.initial.update(note=draft.note, revision=draft.revision, in_force=in_force)
        self.helper = desk_helper(Layout(*self.fields), button=_("Publish these rules"), tag=False)


class NoteForm(forms.Form):
    note = forms.CharField(label=_("What changes and why"), max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "draft_%s", **kwargs})
        self.helper = desk_helper(Layout("note"), button=_("Keep the note"), tag=False)
