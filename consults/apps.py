"""Middle floor: questions, cases, diagnosis, plans."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate
from django.utils.translation import gettext_lazy as _


class ConsultsConfig(AppConfig):
    name = "consults"
    verbose_name = _("Consults")

    def ready(self) -> None:
        from consults.models.guards import install_guards, remove_guards
        from consults.models.outcome_guard import install_outcome_guard, remove_outcome_guard
        from consults.shop.selectors import units_for_new_grower
        from garden.people.defaults import register_units

        # A table rebuilt by a migration loses its triggers, and triggers hinder the rebuilding.
        pre_migrate.connect(remove_guards, sender=self)
        post_migrate.connect(install_guards, sender=self)
        pre_migrate.connect(remove_outcome_guard, sender=self)
        post_migrate.connect(install_outcome_guard, sender=self)
        register_units(units_for_new_grower)
