"""The lint that finds words nobody could translate."""

import pytest

from deploy.lint import words


@pytest.mark.parametrize(
    "code",
    [
        'messages.success(request, "Saved")',
        'raise ValidationError("Too many")',
        'raise Refusal("Not now", field="name")',
        'raise Refusal(f"Only {left} are left")',
        'raise Refusal("Only %s are left" % left)',
        'raise Refusal("Only {} are left".format(left))',
        'form.add_error("name", "Write a name")',
        'forms.CharField(label="Name")',
        'forms.CharField(label=_("Name"), help_text="as on the label")',
        'forms.CharField(error_messages={"required": "Write a name"})',
        'models.CharField("name", max_length=3)',
        'models.ForeignKey("projects.Site", verbose_name="site")',
        'class A(models.TextChoices):\n    ONE = "one", "One"',
        'class A:\n    class Meta:\n        verbose_name = "site"',
        'class A:\n    class Meta:\n        labels = {"name": "Name"}',
        'raise ValidationError(_("Fine") if ok else "Not fine")',
        '_(f"Only {left} are left")',
        '_("Only %s are left" % left)',
    ],
)
def test_a_literal_that_a_person_reads_is_found(code):
    assert len(words.lint("module.py", code)) == 1


@pytest.mark.parametrize(
    "code",
    [
        'messages.success(request, _("Saved"))',
        'raise Refusal(_("Only %(left)s are left") % {"left": left}, field="left", code="too_few")',
        'models.ForeignKey("projects.Site", on_delete=models.PROTECT)',
        'models.CharField(_("name"), default="hectare")',
        'class A(models.TextChoices):\n    ONE = "one", _("One")',
        'logger.error("the broker did not answer")',
        'raise ValueError("for programmers")',
        'forms.CharField(label="—")',
    ],
)
def test_translated_words_and_words_for_programmers_are_left_alone(code):
    assert words.lint("module.py", code) == []


def test_no_module_shows_words_that_cannot_be_translated():
    assert words.findings_in(words.modules()) == []
