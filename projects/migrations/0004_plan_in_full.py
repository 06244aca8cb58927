"""Plans, price lists, purposes, seed trees, day rules; jobs that can be called off.

Plan and MixLine are made anew rather than altered: nothing could write them before, so no row is lost, and one
table made is a hundred times quicker on SQLite than its columns added one by one.
"""

import django.core.validators
import django.db.models.deletion
import projects.identifiers
from django.db import migrations, models

from projects.tenancy import SameOrganisation

KEYS = [
    ("projects_mixline", "block_id", "projects_block"),
    ("projects_mixline", "plan_id", "projects_plan"),
    ("projects_plan", "project_id", "projects_project"),
    ("projects_budgetline", "plan_id", "projects_plan"),
    ("projects_dayrule", "project_id", "projects_project"),
    ("projects_expectedbenefit", "consent_id", "projects_consent"),
    ("projects_expectedbenefit", "project_id", "projects_project"),
    ("projects_plan", "approved_by_id", "projects_person"),
    ("projects_plan", "based_on_id", "projects_plan"),
    ("projects_plan", "season_id", "projects_season"),
    ("projects_plan", "second_season_id", "projects_season"),
    ("projects_projectpurpose", "project_id", "projects_project"),
    ("projects_seedcollection", "collector_id", "projects_person"),
    ("projects_seedcollection", "site_id", "projects_site"),
    ("projects_seedshare", "collection_id", "projects_seedcollection"),
    ("projects_seedshare", "seed_tree_id", "projects_seedtree"),
    ("projects_seedtree", "site_id", "projects_site"),
    ("projects_stocklot", "seed_collection_id", "projects_seedcollection"),
    ("projects_stockoffer", "nursery_id", "projects_nursery"),
]


class Migration(migrations.Migration):

    dependencies = [
        ('projects', '0003_assess_sites'),
        ('species', '0002_let_organisations_say_otherwise'),
    ]

    operations = [
        migrations.DeleteModel(
            name='MixLine',
        ),
        migrations.DeleteModel(
            name='Plan',
        ),
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('project', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='plans', to='projects.project')),
                ('version', models.PositiveIntegerField()),
                ('title', models.CharField(blank=True, max_length=200, verbose_name='title')),
                ('note', models.TextField(blank=True, verbose_name='what this version is for')),
                ('based_on', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.plan')),
                ('season', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.season')),
                ('second_season', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.season')),
                ('assurance', models.FloatField(default=0.9, validators=[django.core.validators.MinValueValidator(0.5), django.core.validators.MaxValueValidator(0.999)], verbose_name='how sure to reach the target')),
                ('cull_share', models.FloatField(default=0.03, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)], verbose_name='share culled on arrival')),
                ('handling_loss_share', models.FloatField(default=0.02, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)], verbose_name='share lost in handling')),
                ('slack_weeks', models.PositiveSmallIntegerField(default=2, verbose_name='spare weeks before planting')),
                ('crew_people', models.PositiveSmallIntegerField(default=6, verbose_name='people who plant')),
                ('trees_per_person_day', models.PositiveIntegerField(default=100, verbose_name='trees one person plants in a day')),
                ('mix_rules', models.JSONField(default=dict)),
                ('approved_at', models.DateTimeField(blank=True, null=True)),
                ('approved_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('frozen', models.JSONField(default=dict)),
            ],
            options={
                'ordering': ['project_id', '-version'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='plan_is_of_one_organisation'), models.UniqueConstraint(fields=('project', 'version'), name='a_plan_version_exists_once')],
            },
        ),
        migrations.CreateModel(
            name='MixLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='mix_lines', to='projects.plan')),
                ('block', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.block')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='species.species')),
                ('stock_type', models.CharField(choices=[('direct_seed', 'direct seed'), ('bare_root', 'bare-root'), ('container', 'container-grown'), ('balled_burlapped', 'balled-and-burlapped'), ('cutting', 'cutting or live stake'), ('wildling', 'wildling')], max_length=20, verbose_name='stock type')),
                ('wave', models.PositiveSmallIntegerField(default=1, verbose_name='wave')),
                ('quantity', models.PositiveIntegerField(verbose_name='how many to plant')),
                ('survival_mean', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)], verbose_name='expected survival')),
                ('survival_low', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)])),
                ('survival_high', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)])),
                ('survival_source', models.CharField(blank=True, max_length=200)),
                ('unit_price_minor', models.BigIntegerField(blank=True, null=True)),
                ('currency', models.CharField(default='EUR', max_length=3)),
                ('introduced_reason', models.CharField(blank=True, max_length=300, verbose_name='why a species from elsewhere')),
            ],
            options={
                'ordering': ['plan_id', 'block_id', 'wave', 'species_id', 'stock_type'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='mix_line_is_of_one_organisation'), models.UniqueConstraint(fields=('plan', 'block', 'species', 'stock_type', 'wave'), name='a_mix_names_each_kind_once_in_a_block_and_wave'), models.CheckConstraint(condition=models.Q(('wave__in', [1, 2])), name='a_mix_has_two_waves_at_most'), models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='a_mix_line_plants_something')],
            },
        ),
        migrations.CreateModel(
            name='DayRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('project', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='day_rules', to='projects.project')),
                ('measure', models.CharField(choices=[('air_c', 'air temperature in °C'), ('soil_c', 'soil temperature at rooting depth in °C'), ('frozen_soil_cm', 'frozen soil in cm'), ('humidity_percent', 'relative humidity in per cent'), ('wind_m_per_s', 'wind in m/s'), ('water_at_surface', 'water stands on the ground'), ('dry_soil', 'soil does not hold together in the fist'), ('thunder', 'thunder is heard'), ('other', 'something else, in words')], max_length=20, verbose_name='what is looked at')),
                ('side', models.CharField(choices=[('below', 'below'), ('above', 'above'), ('yes', 'yes')], max_length=6, verbose_name='when')),
                ('limit', models.FloatField(blank=True, null=True, verbose_name='limit')),
                ('effect', models.CharField(choices=[('stop', 'do not plant'), ('think', 'think again')], max_length=5, verbose_name='then')),
                ('words', models.CharField(blank=True, max_length=200, verbose_name='in words for the crew')),
                ('source', models.CharField(max_length=200, verbose_name='source')),
                ('position', models.PositiveSmallIntegerField(default=0)),
            ],
            options={
                'ordering': ['position', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('limit__isnull', True), ('side', 'yes')), models.Q(models.Q(('side', 'yes'), _negated=True), ('limit__isnull', False)), _connector='OR'), name='a_day_rule_has_a_limit_unless_it_is_yes_or_no')],
            },
        ),
        migrations.CreateModel(
            name='StockOffer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('nursery', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='projects.nursery')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='species.species')),
                ('stock_type', models.CharField(choices=[('direct_seed', 'direct seed'), ('bare_root', 'bare-root'), ('container', 'container-grown'), ('balled_burlapped', 'balled-and-burlapped'), ('cutting', 'cutting or live stake'), ('wildling', 'wildling')], max_length=20, verbose_name='stock type')),
                ('unit', models.CharField(choices=[('tree', 'tree'), ('seed_spot', 'seed spot'), ('seed_area', 'seed by weight or area')], default='tree', max_length=10, verbose_name='unit')),
                ('age_code', models.CharField(blank=True, help_text='for example 1+1', max_length=20, verbose_name='age code')),
                ('provenance', models.CharField(blank=True, max_length=200, verbose_name='provenance')),
                ('unit_price_minor', models.BigIntegerField(verbose_name='price of one, in minor units')),
                ('currency', models.CharField(default='EUR', max_length=3, verbose_name='currency')),
                ('on_offer', models.PositiveIntegerField(blank=True, null=True, verbose_name='how many there are')),
                ('least_quantity', models.PositiveIntegerField(blank=True, null=True, verbose_name='fewest sold')),
                ('lead_time_weeks', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='weeks from order to delivery')),
                ('valid_from', models.DateField(blank=True, null=True, verbose_name='price holds from')),
                ('valid_until', models.DateField(blank=True, null=True, verbose_name='price holds until')),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
                ('archived_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['nursery_id', 'species_id', 'stock_type', 'unit_price_minor', 'id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='stock_offer_is_of_one_organisation'), models.CheckConstraint(condition=models.Q(('unit_price_minor__gte', 0)), name='a_price_is_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='ProjectPurpose',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('project', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='purposes', to='projects.project')),
                ('use', models.CharField(choices=[('soil', 'holding soil'), ('water', 'keeping water clean and banks firm'), ('wildlife', 'wildlife'), ('timber', 'timber'), ('firewood', 'firewood'), ('fruit', 'fruit and nuts'), ('fodder', 'fodder'), ('honey', 'bees and honey'), ('shelter', 'shelter and shade'), ('other_products', 'cork, resin, medicine and other products')], max_length=20, verbose_name='purpose')),
                ('weight', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(10)], verbose_name='weight')),
            ],
            options={
                'ordering': ['project_id', '-weight', 'use'],
                'constraints': [models.UniqueConstraint(fields=('project', 'use'), name='a_purpose_is_weighed_once_in_a_project')],
            },
        ),
        migrations.CreateModel(
            name='ExpectedBenefit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('project', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='benefits', to='projects.project')),
                ('consent', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='expected_benefits', to='projects.consent')),
                ('species', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='species.species')),
                ('kind', models.CharField(choices=[('fruit', 'fruit'), ('nuts', 'nuts'), ('fodder', 'fodder'), ('timber', 'timber'), ('firewood', 'firewood'), ('honey', 'honey'), ('water', 'water'), ('soil', 'soil'), ('other', 'other')], max_length=10, verbose_name='what')),
                ('from_year', models.PositiveSmallIntegerField(verbose_name='from year after planting')),
                ('until_year', models.PositiveSmallIntegerField(verbose_name='until year after planting')),
                ('lowest', models.FloatField(validators=[django.core.validators.MinValueValidator(0)], verbose_name='at least')),
                ('highest', models.FloatField(validators=[django.core.validators.MinValueValidator(0)], verbose_name='at most')),
                ('unit', models.CharField(help_text='for example kg a year', max_length=30, verbose_name='unit')),
                ('per', models.CharField(choices=[('tree', 'each living tree'), ('ha', 'each hectare'), ('whole', 'the whole')], max_length=5, verbose_name='for')),
                ('source', models.CharField(max_length=200, verbose_name='source')),
            ],
            options={
                'ordering': ['project_id', 'from_year', 'kind', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('until_year__gte', models.F('from_year'))), name='a_benefit_ends_after_it_begins'), models.CheckConstraint(condition=models.Q(('highest__gte', models.F('lowest'))), name='a_benefit_is_a_range_from_low_to_high')],
            },
        ),
        migrations.CreateModel(
            name='SeedTree',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='seed_trees', to='projects.site')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='species.species')),
                ('label', models.CharField(max_length=60, verbose_name='label')),
                ('latitude', models.FloatField(blank=True, null=True)),
                ('longitude', models.FloatField(blank=True, null=True)),
                ('ripe_from_month', models.PositiveSmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(12)], verbose_name='ripe from month')),
                ('ripe_to_month', models.PositiveSmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(12)], verbose_name='ripe to month')),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
            ],
            options={
                'ordering': ['site_id', 'species_id', 'label'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='seed_tree_is_of_one_organisation'), models.UniqueConstraint(fields=('site', 'label'), name='a_seed_tree_label_is_used_once_on_a_site')],
            },
        ),
        migrations.CreateModel(
            name='SeedCollection',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='seed_collections', to='projects.site')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='species.species')),
                ('seed_lot', models.CharField(max_length=60, verbose_name='seed lot')),
                ('collected_on', models.DateField(verbose_name='collected on')),
                ('mother_trees', models.PositiveIntegerField(validators=[django.core.validators.MinValueValidator(1)], verbose_name='how many mother trees')),
                ('apart_m', models.FloatField(blank=True, null=True, verbose_name='least distance between them in metres')),
                ('weight_g', models.FloatField(blank=True, null=True, verbose_name='weight in grams')),
                ('purity_share', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)], verbose_name='purity')),
                ('germination_share', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)], verbose_name='germination')),
                ('collector', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('permit_reference', models.CharField(blank=True, max_length=100, verbose_name='permit')),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
            ],
            options={
                'ordering': ['-collected_on', '-id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='seed_collection_is_of_one_organisation'), models.UniqueConstraint(fields=('organisation', 'seed_lot'), name='a_collected_seed_lot_is_named_once')],
            },
        ),
        migrations.CreateModel(
            name='SeedShare',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('collection', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='shares', to='projects.seedcollection')),
                ('seed_tree', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='shares', to='projects.seedtree')),
                ('label', models.CharField(blank=True, max_length=60, verbose_name='label')),
                ('weight_g', models.FloatField(validators=[django.core.validators.MinValueValidator(0)], verbose_name='weight in grams')),
            ],
            options={
                'ordering': ['collection_id', 'id'],
            },
        ),
        migrations.AddField(
            model_name='budgetline',
            name='kind',
            field=models.CharField(choices=[('stock', 'plants and seed'), ('ground', 'preparing the ground'), ('planting', 'planting'), ('transport', 'transport and storage'), ('protection', 'fences and guards'), ('care', 'aftercare'), ('survey', 'counting'), ('people', 'people and training'), ('other', 'other')], default='other', max_length=10, verbose_name='kind'),
        ),
        migrations.AddField(
            model_name='budgetline',
            name='plan',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='budget_lines', to='projects.plan'),
        ),
        migrations.AddField(
            model_name='job',
            name='cancel_asked_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='project',
            name='contingency_share',
            field=models.FloatField(default=0.1, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(1)], verbose_name='set aside for the unforeseen'),
        ),
        migrations.AddField(
            model_name='site',
            name='ecological_zone',
            field=models.CharField(blank=True, max_length=40, verbose_name='ecological zone'),
        ),
        migrations.AlterField(
            model_name='job',
            name='state',
            field=models.CharField(choices=[('waiting', 'waiting'), ('running', 'running'), ('done', 'done'), ('failed', 'failed'), ('cancelled', 'cancelled')], default='waiting', max_length=10),
        ),
        migrations.AddConstraint(
            model_name='consent',
            constraint=models.UniqueConstraint(fields=('organisation', 'id'), name='consent_is_of_one_organisation'),
        ),
        migrations.AddField(
            model_name='stocklot',
            name='seed_collection',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='projects.seedcollection'),
        ),
        *(SameOrganisation(table, column, parent) for table, column, parent in KEYS),
    ]
