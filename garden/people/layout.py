"""Pieces of a form's layout that the garden page uses."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from django.template.loader import render_to_string
from django.utils.functional import Promise


class Details(Div):  # type: ignore[misc]
    """Fields behind a fold. It stands open when something in it is filled in or has to be mended."""

    def __init__(self, summary: str | Promise, *fields: Any) -> None:
        super().__init__(*fields)
        self.summary = summary

    def render(self, form: Any, context: Any, template_pack: str | None = None, **kwargs: Any) -> str:
        names = [pointer.name for pointer in self.get_field_names()]
        is_open = any(form[name].errors or form[name].value() for name in names)
        inner = self.get_rendered_fields(form, context, template_pack, **kwargs)
        return render_to_string(
            "people/_fold.html", {"summary": self.summary, "open": is_open, "inner": inner}
        )


def part_helper(*pieces: Any) -> FormHelper:
    """A helper for one part of a larger form: no form tag, no token, no button of its own."""
    helper = FormHelper()
    helper.form_tag = False
    helper.disable_csrf = True
    helper.layout = Layout(*pieces)
    return helper
