"""A rule set comes in as the one JSON text that the export gives."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from consults.ruleset.errors import Problem, RulesetError
from consults.ruleset.loader import MAX_JSON_BYTES, Ruleset, reference_codes
from garden.forms import desk_helper

_SHOWN = 100


class RulesetForm(forms.Form):
    file = forms.FileField(
        label=_("File with the rules"),
        help_text=_("The JSON file that the export gives, as you have changed it. At most 8 MB."),
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
        error_messages={
            "required": _("Choose the file with the rules."),
            "empty": _("This file is empty. Export the rules and start from that file."),
        },
    )
    note = forms.CharField(
        label=_("What changed"),
        max_length=300,
        required=False,
        help_text=_("One sentence for those who ask later."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.problems: tuple[Problem, ...] = ()
        self.problems_left = 0
        self.helper = desk_helper(button=_("Check and publish"), tag=False)

    def clean_file(self) -> Ruleset:
        upload: UploadedFile[Any] = self.cleaned_data["file"]
        if upload.size is not None and upload.size > MAX_JSON_BYTES:
            raise ValidationError(_("This file is larger than 8 MB. Rules are text only; export them again."))
        try:
            content = upload.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise ValidationError(
                _("This file is not text in UTF-8. Save it as UTF-8 and try again.")
            ) from None
        try:
            return Ruleset.from_json(content, reference_codes())
        except RulesetError as error:
            self.problems = error.problems[:_SHOWN]
            self.problems_left = len(error.problems) - len(self.problems)
            raise ValidationError(
                ngettext(
                    "Nothing was published: %(count)d thing is to be mended, listed below.",
                    "Nothing was published: %(count)d things are to be mended, listed below.",
                    len(error.problems),
                )
                % {"count": len(error.problems)}
            ) from None
