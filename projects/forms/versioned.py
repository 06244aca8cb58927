"""Forms that remember which version of a row they were opened on."""

from typing import Any

from django import forms

from projects import versions


class VersionedForm(forms.ModelForm):
    """A model form whose writes go through a service; `version` travels along and stays out of the page."""

    version = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk:
            self.initial["version"] = versions.token(self.instance)
        else:
            del self.fields["version"]
            self._begin_with_the_usual()

    def _begin_with_the_usual(self) -> None:
        """Show the record's own defaults in fields this form declares; Django does so for the others."""
        asked = {*self.declared_fields} & {*(self._meta.fields or ())} - {*self.initial}
        for field in self.instance._meta.concrete_fields:
            name = field.name
            if name in asked and field.has_default():
                self.initial[name] = field.to_python(getattr(self.instance, name))

    def _post_clean(self) -> None:
        """Leave the instance as it was read: the service locks and changes its own copy."""

    def save(self, commit: bool = True) -> Any:
        raise NotImplementedError("Writes go through a service.")
