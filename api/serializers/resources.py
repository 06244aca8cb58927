"""What each resource shows. Fields are listed one by one; things are known by their uid, never by a row number."""

from rest_framework import serializers

from monitoring.models import Estimate, ReplacementNeed, SurveyRound, SurvivalPlot
from projects.models import Block, Project, Site


def uid_of(source: str, **options: object) -> serializers.UUIDField:
    """Return a field that shows the uid of a related row."""
    return serializers.UUIDField(source=f"{source}.uid", read_only=True, **options)


class ProjectSerializer(serializers.ModelSerializer):
    target_survival = serializers.FloatField()
    replanting_level = serializers.FloatField()
    claim_level = serializers.FloatField()

    class Meta:
        model = Project
        fields = [
            "uid", "name", "purpose", "funder_name", "target_survival", "check_age_seasons", "check_age_months",
            "target_stocking_per_ha", "replanting_level", "claim_level", "min_plots_per_species", "currency",
            "has_baseline", "archived_at",
        ]  # fmt: skip


class SiteSerializer(serializers.ModelSerializer):
    boundary = serializers.JSONField(help_text="GeoJSON geometry (RFC 7946), or null")

    class Meta:
        model = Site
        fields = [
            "uid", "name", "country_code", "region", "time_zone", "boundary", "gross_area_ha", "elevation_m",
            "description", "emergency_contact", "archived_at",
        ]  # fmt: skip


class GroundSerializer(serializers.Serializer):
    """The version of a block's ground that is in force."""

    version = serializers.IntegerField()
    gross_area_ha = serializers.FloatField()
    exclusions_ha = serializers.FloatField()
    net_area_ha = serializers.FloatField()
    area_source = serializers.CharField()
    valid_from = serializers.DateField()
    geometry = serializers.JSONField(help_text="GeoJSON geometry (RFC 7946), or null")


class BlockSerializer(serializers.ModelSerializer):
    site = uid_of("site")
    project = uid_of("project")
    ground = serializers.SerializerMethodField()

    class Meta:
        model = Block
        fields = [
            "uid", "name", "site", "project", "layout", "pattern", "row_spacing_m", "in_row_spacing_m",
            "target_stocking_per_ha", "aspect_note", "hazards", "ground", "archived_at",
        ]  # fmt: skip

    def get_ground(self, block: Block) -> GroundSerializer(allow_null=True):  # type: ignore[valid-type]
        """Return the newest version; the view fetched all of them, newest first."""
        versions = list(block.grounds.all())
        return GroundSerializer(versions[0]).data if versions else None


class PlotSerializer(serializers.ModelSerializer):
    block = uid_of("block")
    site = uid_of("block.site")
    project = uid_of("block.project")

    class Meta:
        model = SurvivalPlot
        fields = [
            "uid", "name", "block", "site", "project", "shape", "latitude", "longitude", "radius_m", "length_m",
            "width_m", "spots", "area_m2", "slope_percent", "plot_weight", "selection_method", "is_permanent",
            "directions", "retired_at",
        ]  # fmt: skip


class RoundSerializer(serializers.ModelSerializer):
    project = uid_of("project")
    season = serializers.CharField(source="season.label")

    class Meta:
        model = SurveyRound
        fields = ["uid", "name", "project", "season", "opens_on", "closes_on", "protocol", "status"]


class EstimateSerializer(serializers.ModelSerializer):
    project = uid_of("project")
    round = uid_of("round", allow_null=True)
    block = uid_of("block", allow_null=True)

    class Meta:
        model = Estimate
        fields = [
            "uid", "project", "round", "block", "scope", "key", "measure", "method", "level", "value", "se",
            "lower", "upper", "lower_one_sided", "upper_one_sided", "lower_claim", "upper_claim", "deff",
            "n_plots", "n_trees", "n_flagged", "is_headline", "status", "reason", "outcome", "outcome_claim",
            "more_plots", "next_step", "revision", "input_digest", "code_version",
        ]  # fmt: skip


class NeedSerializer(serializers.ModelSerializer):
    project = uid_of("project")
    round = uid_of("round")
    block = uid_of("block")
    species = serializers.SlugField(source="species.slug", allow_null=True)

    class Meta:
        model = ReplacementNeed
        fields = [
            "uid", "project", "round", "block", "species", "stock_type", "target", "living", "living_lower",
            "living_upper", "living_at_check", "replacement_survival", "replacement_survival_source", "n_expected",
            "n_assured", "n_assured_if_known", "assurance", "window_opens_on", "window_closes_on", "order_by",
            "status", "reason", "losses", "revision", "input_digest", "code_version",
        ]  # fmt: skip
