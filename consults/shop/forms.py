"""Signing in; the shop's settings; the people of the shop."""

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.utils.translation import gettext_lazy as _

from garden.forms import desk_helper


class SignInForm(AuthenticationForm):
    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": _(
            "Name and password do not fit together. Check the spelling; capital letters count in both."
        ),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = desk_helper(button=_("Sign in"))
