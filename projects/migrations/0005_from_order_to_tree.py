"""Orders in full, hand-over checks, crew days, walks, aftercare with its reasons, and who is told what."""

import django.core.validators
import django.db.models.deletion
import django.utils.timezone
import projects.identifiers
from django.db import migrations, models

from projects.tenancy import SameOrganisation

KEYS = [
    ("projects_calendarfeed", "membership_id", "projects_membership"),
    ("projects_caretask", "assigned_to_id", "projects_person"),
    ("projects_caretask", "cohort_id", "projects_cohort"),
    ("projects_caretask", "done_by_id", "projects_person"),
    ("projects_caretask", "submission_id", "projects_submission"),
    ("projects_crewday", "block_id", "projects_block"),
    ("projects_crewday", "decided_by_id", "projects_person"),
    ("projects_crewday", "lead_id", "projects_person"),
    ("projects_crewdaylot", "crew_day_id", "projects_crewday"),
    ("projects_crewdaylot", "lot_id", "projects_stocklot"),
    ("projects_crewdaylot", "replaces_id", "projects_cohort"),
    ("projects_crewdayperson", "buddy_id", "projects_person"),
    ("projects_crewdayperson", "crew_day_id", "projects_crewday"),
    ("projects_crewdayperson", "person_id", "projects_person"),
    ("projects_delivery", "received_by_id", "projects_person"),
    ("projects_fieldpassproject", "field_pass_id", "projects_fieldpass"),
    ("projects_fieldpassproject", "project_id", "projects_project"),
    ("projects_letterchoice", "membership_id", "projects_membership"),
    ("projects_linesubstitute", "line_id", "projects_orderline"),
    ("projects_lotcheck", "checked_by_id", "projects_person"),
    ("projects_lotcheck", "lot_id", "projects_stocklot"),
    ("projects_lotcheck", "submission_id", "projects_submission"),
    ("projects_lotmovement", "to_lot_id", "projects_stocklot"),
    ("projects_paper", "care_task_id", "projects_caretask"),
    ("projects_paper", "check_of_lot_id", "projects_lotcheck"),
    ("projects_paper", "delivery_id", "projects_delivery"),
    ("projects_paper", "lot_id", "projects_stocklot"),
    ("projects_paper", "order_id", "projects_stockorder"),
    ("projects_paper", "sighting_id", "projects_sighting"),
    ("projects_plantingday", "crew_day_id", "projects_crewday"),
    ("projects_qualitycheck", "block_id", "projects_block"),
    ("projects_qualitycheck", "checked_by_id", "projects_person"),
    ("projects_qualitycheck", "crew_day_id", "projects_crewday"),
    ("projects_qualitycheck", "lot_id", "projects_stocklot"),
    ("projects_reminderowner", "membership_id", "projects_membership"),
    ("projects_sighting", "task_id", "projects_caretask"),
    ("projects_sighting", "walk_id", "projects_walk"),
    ("projects_siteevent", "site_id", "projects_site"),
    ("projects_stocklot", "order_line_id", "projects_orderline"),
    ("projects_walk", "block_id", "projects_block"),
    ("projects_walk", "submission_id", "projects_submission"),
    ("projects_walk", "walked_by_id", "projects_person"),
    ("projects_weeklyletter", "membership_id", "projects_membership"),
]


def tell_doubles_apart(apps, schema_editor):
    """Number deliveries that two people entered for one order and day at once: from now on there is only one."""
    seen = {}
    deliveries = apps.get_model("projects", "Delivery").objects.filter(order__isnull=False)
    for delivery in deliveries.order_by("id"):
        key = (delivery.order_id, delivery.nursery_id, delivery.delivered_on)
        seen[key] = seen.get(key, 0) + 1
        if seen[key] > 1:
            delivery.note_number = f"entered again {seen[key]}"
            delivery.save(update_fields=["note_number"])


class Migration(migrations.Migration):

    dependencies = [
        ('projects', '0004_plan_in_full'),
        ('species', '0002_let_organisations_say_otherwise'),
    ]

    operations = [
        migrations.CreateModel(
            name='CalendarFeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('membership', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='calendar_feeds', to='projects.membership')),
                ('token_hash', models.CharField(max_length=64, unique=True)),
                ('label', models.CharField(max_length=120, verbose_name='for which calendar')),
                ('only_mine', models.BooleanField(default=False, verbose_name='only what I see to')),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('revoked_at', models.DateTimeField(blank=True, null=True)),
                ('last_read_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='calendar_feed_is_of_one_organisation'), models.CheckConstraint(condition=models.Q(('label', ''), _negated=True), name='a_calendar_feed_says_for_what')],
            },
        ),
        migrations.CreateModel(
            name='CrewDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('block', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='crew_days', to='projects.block')),
                ('day', models.DateField(verbose_name='day')),
                ('crew', models.CharField(blank=True, max_length=120, verbose_name='crew')),
                ('lead', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('people_expected', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='how many people')),
                ('meet_at', models.TimeField(blank=True, null=True, verbose_name='meet at')),
                ('meeting_point', models.CharField(blank=True, max_length=200, verbose_name='meeting point')),
                ('back_by', models.TimeField(blank=True, null=True, verbose_name='back by')),
                ('buddies', models.CharField(blank=True, max_length=300, verbose_name='who looks after whom, and who is told')),
                ('depth_note', models.CharField(blank=True, max_length=300, verbose_name='how deep')),
                ('note', models.TextField(blank=True, verbose_name='note')),
                ('state', models.CharField(choices=[('planned', 'planned'), ('go', 'go'), ('no_go', 'no-go today'), ('closed', 'closed'), ('called_off', 'called off')], default='planned', max_length=10)),
                ('decided_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('decided_because', models.CharField(blank=True, max_length=300, verbose_name='because')),
                ('readings', models.JSONField(blank=True, default=dict)),
                ('clean_tools', models.BooleanField(blank=True, null=True, verbose_name='boots and tools were cleaned')),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-day', '-id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='crew_day_is_of_one_organisation')],
            },
        ),
        migrations.CreateModel(
            name='CrewDayLot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('crew_day', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lots', to='projects.crewday')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='crew_days', to='projects.stocklot')),
                ('planned', models.PositiveIntegerField(verbose_name='meant to be planted')),
                ('taken', models.PositiveIntegerField(blank=True, null=True, verbose_name='taken out')),
                ('replaces', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.cohort')),
                ('mark', models.CharField(choices=[('none', 'not marked'), ('tag', 'tag'), ('cane', 'cane of a colour'), ('spot', 'planting spot written down')], default='none', max_length=6, verbose_name='mark')),
                ('mark_note', models.CharField(blank=True, max_length=60, verbose_name='colour or number of the mark')),
            ],
            options={
                'ordering': ['crew_day_id', 'id'],
                'constraints': [models.UniqueConstraint(fields=('crew_day', 'lot', 'replaces'), name='a_lot_is_taken_once_a_day')],
            },
        ),
        migrations.CreateModel(
            name='CrewDayPerson',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('crew_day', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='people', to='projects.crewday')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('buddy', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('back_at', models.TimeField(blank=True, null=True, verbose_name='back at')),
            ],
            options={
                'ordering': ['crew_day_id', 'id'],
                'constraints': [models.UniqueConstraint(fields=('crew_day', 'person'), name='somebody_is_on_a_crew_once_a_day')],
            },
        ),
        migrations.CreateModel(
            name='FieldPassProject',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('field_pass', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='work_projects', to='projects.fieldpass')),
                ('project', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.project')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('field_pass', 'project'), name='a_pass_names_a_project_once')],
            },
        ),
        migrations.CreateModel(
            name='LetterChoice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('membership', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='letter_choice', to='projects.membership')),
                ('wanted', models.BooleanField(default=True, verbose_name='send me the weekly letter')),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='LineSubstitute',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('line', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='substitutes', to='projects.orderline')),
                ('species', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='species.species')),
                ('stock_type', models.CharField(blank=True, choices=[('direct_seed', 'direct seed'), ('bare_root', 'bare-root'), ('container', 'container-grown'), ('balled_burlapped', 'balled-and-burlapped'), ('cutting', 'cutting or live stake'), ('wildling', 'wildling')], max_length=20, verbose_name='stock type')),
                ('rank', models.PositiveSmallIntegerField(default=1)),
            ],
            options={
                'ordering': ['line_id', 'rank', 'id'],
            },
        ),
        migrations.CreateModel(
            name='LotCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='projects.stocklot')),
                ('point', models.CharField(choices=[('nursery', 'leaving the nursery'), ('arrival', 'arrival'), ('field_store', 'field store'), ('crew', 'handed to the crew')], default='arrival', max_length=12, verbose_name='where')),
                ('checked_at', models.DateTimeField(default=django.utils.timezone.now, verbose_name='when')),
                ('checked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('counted', models.PositiveIntegerField(blank=True, null=True, verbose_name='counted')),
                ('box_temperature_c', models.FloatField(blank=True, null=True, verbose_name='temperature in the box, °C')),
                ('minutes_exposed', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='minutes with bare roots in the open')),
                ('root_condition', models.CharField(choices=[('moist', 'moist'), ('drying', 'drying at the surface'), ('dry', 'dry'), ('spoilt', 'mouldy, soft or smelling'), ('frozen', 'frozen'), ('not_seen', 'not looked at')], default='not_seen', max_length=10, verbose_name='roots')),
                ('sample_size', models.PositiveIntegerField(blank=True, null=True, verbose_name='plants looked at closely')),
                ('sample_bad', models.PositiveIntegerField(blank=True, null=True, verbose_name='of them not fit to plant')),
                ('accept_up_to', models.PositiveIntegerField(blank=True, null=True, verbose_name='accept up to so many')),
                ('heights_cm', models.JSONField(blank=True, default=list, verbose_name='heights in cm')),
                ('collars_mm', models.JSONField(blank=True, default=list, verbose_name='root-collar diameters in mm')),
                ('verdict', models.CharField(choices=[('accept', 'accept'), ('hold', 'hold until looked at again'), ('reject', 'reject')], max_length=8, verbose_name='verdict')),
                ('because', models.CharField(blank=True, max_length=300, verbose_name='because')),
                ('note', models.TextField(blank=True, verbose_name='note')),
                ('submission', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.submission')),
                ('voided_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['lot_id', '-checked_at', '-id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='lot_check_is_of_one_organisation'), models.CheckConstraint(condition=models.Q(('sample_bad__isnull', True), ('sample_bad__lte', models.F('sample_size')), _connector='OR'), name='a_sample_has_no_more_bad_plants_than_plants')],
            },
        ),
        migrations.CreateModel(
            name='Walk',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('block', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='walks', to='projects.block')),
                ('walked_on', models.DateField(verbose_name='walked on')),
                ('walked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('note', models.TextField(blank=True, verbose_name='note')),
                ('submission', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.submission')),
                ('voided_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['block_id', '-walked_on', '-id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='walk_is_of_one_organisation')],
            },
        ),
        migrations.CreateModel(
            name='Sighting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('walk', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='sightings', to='projects.walk')),
                ('sign', models.CharField(choices=[('stock_in', 'stock or game inside'), ('fence', 'fence down'), ('guards', 'guards blown or missing'), ('weeds', 'weeds over the tops'), ('invaders', 'invasive growth'), ('dry', 'trees wilting'), ('loose', 'trees loose, lifted or leaning'), ('disease', 'pest or disease'), ('damage', 'broken, burnt or washed out'), ('other', 'something else')], max_length=10, verbose_name='what was seen')),
                ('urgency', models.CharField(choices=[('now', 'now'), ('week', 'within a week'), ('month', 'within a month'), ('note', 'only noted')], default='month', max_length=6, verbose_name='how soon')),
                ('where', models.CharField(blank=True, max_length=200, verbose_name='where')),
                ('latitude', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-90), django.core.validators.MaxValueValidator(90)])),
                ('longitude', models.FloatField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-180), django.core.validators.MaxValueValidator(180)])),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
                ('task', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sightings', to='projects.caretask')),
            ],
            options={
                'ordering': ['walk_id', 'id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='sighting_is_of_one_organisation')],
            },
        ),
        migrations.CreateModel(
            name='Paper',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('kind', models.CharField(choices=[('delivery_note', 'delivery note'), ('seed_certificate', 'certificate of the seed lot'), ('plant_passport', 'plant passport or health certificate'), ('order', 'order or confirmation'), ('invoice', 'invoice'), ('photo', 'photo'), ('other', 'other paper')], max_length=20, verbose_name='what it is')),
                ('title', models.CharField(blank=True, max_length=120, verbose_name='title')),
                ('number', models.CharField(blank=True, max_length=60, verbose_name='number on it')),
                ('issued_on', models.DateField(blank=True, null=True, verbose_name='issued on')),
                ('sha256', models.CharField(max_length=64)),
                ('added_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('order', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='papers', to='projects.stockorder')),
                ('delivery', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='papers', to='projects.delivery')),
                ('lot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='papers', to='projects.stocklot')),
                ('check_of_lot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='papers', to='projects.lotcheck')),
                ('sighting', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='papers', to='projects.sighting')),
                ('care_task', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='papers', to='projects.caretask')),
                ('voided_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='QualityCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('block', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='quality_checks', to='projects.block')),
                ('crew_day', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='quality_checks', to='projects.crewday')),
                ('lot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='quality_checks', to='projects.stocklot')),
                ('checked_on', models.DateField(verbose_name='checked on')),
                ('label', models.CharField(blank=True, max_length=60, verbose_name='which spot of ground')),
                ('inspected', models.PositiveIntegerField(verbose_name='trees looked at')),
                ('acceptable', models.PositiveIntegerField(verbose_name='planted as they should be')),
                ('faults', models.JSONField(blank=True, default=dict)),
                ('checked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person')),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
                ('voided_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['block_id', '-checked_on', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('inspected__gt', 0), ('acceptable__lte', models.F('inspected'))), name='no_more_trees_are_acceptable_than_inspected')],
            },
        ),
        migrations.CreateModel(
            name='ReminderOwner',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('kind', models.CharField(max_length=40)),
                ('subject_uid', models.UUIDField()),
                ('membership', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='projects.membership')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('organisation', 'kind', 'subject_uid'), name='one_owner_per_subject_and_kind')],
            },
        ),
        migrations.CreateModel(
            name='SiteEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='events', to='projects.site')),
                ('kind', models.CharField(choices=[('storm', 'storm'), ('frost', 'frost'), ('fire', 'fire'), ('flood', 'flood'), ('heat', 'heat or drought'), ('other', 'something else')], max_length=6, verbose_name='what happened')),
                ('happened_on', models.DateField(verbose_name='when')),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
                ('voided_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['site_id', '-happened_on', '-id'],
                'constraints': [models.UniqueConstraint(fields=('organisation', 'id'), name='site_event_is_of_one_organisation')],
            },
        ),
        migrations.CreateModel(
            name='StoredFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('sha256', models.CharField(max_length=64)),
                ('media_type', models.CharField(max_length=60)),
                ('size_bytes', models.PositiveIntegerField()),
                ('content', models.BinaryField()),
                ('stored_at', models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('organisation', 'sha256'), name='a_file_is_kept_once_in_an_organisation')],
            },
        ),
        migrations.CreateModel(
            name='WeeklyLetter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=projects.identifiers.uuid7, editable=False, unique=True)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.organisation')),
                ('membership', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='letters', to='projects.membership')),
                ('week_on', models.DateField()),
                ('state', models.CharField(choices=[('claimed', 'being sent'), ('sent', 'sent'), ('failed', 'did not leave')], default='claimed', max_length=8)),
                ('claimed_at', models.DateTimeField(default=django.utils.timezone.now)),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('told', models.JSONField(default=list)),
            ],
            options={
                'ordering': ['-week_on', '-id'],
                'constraints': [models.UniqueConstraint(fields=('membership', 'week_on'), name='one_letter_a_week_to_a_member')],
            },
        ),
        migrations.AddField(
            model_name='caretask',
            name='amount',
            field=models.FloatField(blank=True, null=True, verbose_name='how much'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='amount_unit',
            field=models.CharField(blank=True, max_length=30, verbose_name='of what'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='assigned_to',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='cohort',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='care_tasks', to='projects.cohort'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='done_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='dropped_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='caretask',
            name='dropped_because',
            field=models.CharField(blank=True, max_length=300, verbose_name='not needed because'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='first_due_by',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='caretask',
            name='put_off_because',
            field=models.CharField(blank=True, max_length=300, verbose_name='put off because'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='rule',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='caretask',
            name='source',
            field=models.CharField(blank=True, max_length=200, verbose_name='whose word'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='submission',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.submission'),
        ),
        migrations.AddField(
            model_name='caretask',
            name='why',
            field=models.CharField(blank=True, max_length=300, verbose_name='why'),
        ),
        migrations.AddField(
            model_name='delivery',
            name='carrier',
            field=models.CharField(blank=True, max_length=120, verbose_name='brought by'),
        ),
        migrations.AddField(
            model_name='delivery',
            name='note_number',
            field=models.CharField(blank=True, max_length=60, verbose_name='number of the delivery note'),
        ),
        migrations.AddField(
            model_name='delivery',
            name='received_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='projects.person'),
        ),
        migrations.AddField(
            model_name='lotmovement',
            name='to_lot',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='came_over', to='projects.stocklot'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='age_code',
            field=models.CharField(blank=True, help_text='for example 1+1', max_length=20, verbose_name='age code'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='confirmed_quantity',
            field=models.PositiveIntegerField(blank=True, null=True, verbose_name='confirmed by the nursery'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='note',
            field=models.CharField(blank=True, max_length=300, verbose_name='note'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='provenance',
            field=models.CharField(blank=True, max_length=200, verbose_name='provenance asked for'),
        ),
        migrations.AddField(
            model_name='orderline',
            name='substitution',
            field=models.CharField(choices=[('none', 'nothing else'), ('ask', 'ask us first'), ('same_species', 'the same species in another size, age or stock type'), ('listed', 'what is listed, in that order')], default='ask', max_length=12, verbose_name='if they cannot send it'),
        ),
        migrations.AddField(
            model_name='plantingday',
            name='mark',
            field=models.CharField(choices=[('none', 'not marked'), ('tag', 'tag'), ('cane', 'cane of a colour'), ('spot', 'planting spot written down')], default='none', max_length=6, verbose_name='mark'),
        ),
        migrations.AddField(
            model_name='plantingday',
            name='mark_note',
            field=models.CharField(blank=True, max_length=60, verbose_name='colour or number of the mark'),
        ),
        migrations.AddField(
            model_name='stocklot',
            name='category',
            field=models.CharField(blank=True, max_length=40, verbose_name='category of the seed source'),
        ),
        migrations.AddField(
            model_name='stocklot',
            name='certificate',
            field=models.CharField(blank=True, max_length=60, verbose_name='number of its certificate or passport'),
        ),
        migrations.AddField(
            model_name='stocklot',
            name='order_line',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='projects.orderline'),
        ),
        migrations.AddField(
            model_name='stocklot',
            name='stated',
            field=models.PositiveIntegerField(blank=True, null=True, verbose_name='on the delivery note'),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='closed_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='confirmed_on',
            field=models.DateField(blank=True, null=True, verbose_name='confirmed on'),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='deliver_to',
            field=models.CharField(blank=True, max_length=200, verbose_name='deliver to'),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='deposit_minor',
            field=models.BigIntegerField(blank=True, null=True, verbose_name='deposit, in minor units'),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='nursery_reference',
            field=models.CharField(blank=True, max_length=60, verbose_name="the nursery's own number"),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='promised_on',
            field=models.DateField(blank=True, null=True, verbose_name='promised for'),
        ),
        migrations.AddField(
            model_name='stockorder',
            name='terms',
            field=models.TextField(blank=True, verbose_name='deposit, guarantee and other terms'),
        ),
        migrations.AlterField(
            model_name='caretask',
            name='kind',
            field=models.CharField(choices=[('weeding', 'weeding'), ('water', 'watering'), ('guards', 'guards'), ('fence', 'fence'), ('mulch', 'mulching'), ('stakes', 'stakes'), ('shade', 'shade'), ('soil', 'soil test, amendment or fertiliser'), ('walk', 'walk through and look'), ('invasive', 'remove invasive growth'), ('revisit', 'go back and look'), ('other', 'other')], max_length=12),
        ),
        migrations.AlterField(
            model_name='delivery',
            name='delivered_on',
            field=models.DateField(verbose_name='delivered on'),
        ),
        migrations.AlterField(
            model_name='delivery',
            name='note',
            field=models.TextField(blank=True, verbose_name='note'),
        ),
        migrations.AddConstraint(
            model_name='caretask',
            constraint=models.UniqueConstraint(fields=('organisation', 'id'), name='care_task_is_of_one_organisation'),
        ),
        migrations.RunPython(tell_doubles_apart, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.UniqueConstraint(condition=models.Q(('order__isnull', False)), fields=('order', 'nursery', 'delivered_on', 'note_number'), name='a_delivery_of_an_order_is_entered_once'),
        ),
        migrations.AddConstraint(
            model_name='lotmovement',
            constraint=models.CheckConstraint(condition=models.Q(('to_lot__isnull', True), ('kind', 'moved_on'), _connector='OR'), name='plants_that_change_lot_have_moved_on'),
        ),
        migrations.AddField(
            model_name='plantingday',
            name='crew_day',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='planting_days', to='projects.crewday'),
        ),
        *(SameOrganisation(table, column, parent) for table, column, parent in KEYS),
    ]
