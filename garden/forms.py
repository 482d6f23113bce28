"""What all staff forms share: drawn by crispy-forms, saved by one plainly named button."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django.utils.translation import gettext_lazy as _


def desk_helper(*layout: Any, button: Any = None, tag: bool = True) -> FormHelper:
    """A form helper in the house's manner. `button` None: a plain Save; "" : no button."""
    helper = FormHelper()
    helper.form_tag = tag
    helper.html5_required = True
    helper.attrs = {"novalidate": ""}  # our own sentences stand by the field
    if layout:
        helper.layout = layout[0]
    label = _("Save") if button is None else button
    if label:
        helper.add_input(Submit("save", label, css_class="btn-thread"))
    return helper
