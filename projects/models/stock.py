"""Nurseries, stock orders, deliveries, stock lots and every movement of a lot."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from projects.models.places import ArchivableQuerySet
from projects.tenancy import TenantModel, unique_in_organisation


class StockType(models.TextChoices):
    """How a plant arrives."""

    DIRECT_SEED = "direct_seed", _("direct seed")
    BARE_ROOT = "bare_root", _("bare-root")
    CONTAINER = "container", _("container-grown")
    BALLED = "balled_burlapped", _("balled-and-burlapped")
    CUTTING = "cutting", _("cutting or live stake")
    WILDLING = "wildling", _("wildling")


class Unit(models.TextChoices):
    """What one counted thing is."""

    TREE = "tree", _("tree")
    SEED_SPOT = "seed_spot", _("seed spot")
    SEED_AREA = "seed_area", _("seed by weight or area")


class Nursery(TenantModel):
    """Where plants are raised."""

    name = models.CharField(_("name"), max_length=200)
    country_code = models.CharField(_("country"), max_length=2, blank=True)
    lead_time_weeks = models.PositiveSmallIntegerField(_("weeks from order to delivery"), default=10)
    contact = models.CharField(_("how to reach them"), max_length=200, blank=True)
    notes = models.TextField(_("notes"), blank=True)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = ArchivableQuerySet.as_manager()

    class Meta:
        verbose_name_plural = _("nurseries")
        ordering = ["name", "id"]
        constraints = [unique_in_organisation("nursery")]

    def __str__(self) -> str:
        return self.name


class StockOffer(TenantModel):
    """What a nursery sells: one line of its price list."""

    nursery = models.ForeignKey(Nursery, on_delete=models.PROTECT, related_name="offers")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    stock_type = models.CharField(_("stock type"), max_length=20, choices=StockType)
    unit = models.CharField(_("unit"), max_length=10, choices=Unit, default=Unit.TREE)
    age_code = models.CharField(_("age code"), max_length=20, blank=True, help_text=_("for example 1+1"))
    provenance = models.CharField(_("provenance"), max_length=200, blank=True)
    unit_price_minor = models.BigIntegerField(_("price of one, in minor units"))
    currency = models.CharField(_("currency"), max_length=3, default="EUR")
    on_offer = models.PositiveIntegerField(_("how many there are"), null=True, blank=True)
    least_quantity = models.PositiveIntegerField(_("fewest sold"), null=True, blank=True)
    lead_time_weeks = models.PositiveSmallIntegerField(
        _("weeks from order to delivery"), null=True, blank=True
    )
    valid_from = models.DateField(_("price holds from"), null=True, blank=True)
    valid_until = models.DateField(_("price holds until"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = ArchivableQuerySet.as_manager()

    class Meta:
        ordering = ["nursery_id", "species_id", "stock_type", "unit_price_minor", "id"]
        constraints = [
            unique_in_organisation("stock_offer"),
            models.CheckConstraint(condition=Q(unit_price_minor__gte=0), name="a_price_is_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.species}, {self.get_stock_type_display()}"

    @property
    def weeks_to_wait(self) -> int:
        """The line's own lead time, else its nursery's."""
        return self.nursery.lead_time_weeks if self.lead_time_weeks is None else self.lead_time_weeks


class OrderStatus(models.TextChoices):
    DRAFT = "draft", _("draft")
    PLACED = "placed", _("placed")
    CONFIRMED = "confirmed", _("confirmed")
    CLOSED = "closed", _("closed")
    CANCELLED = "cancelled", _("cancelled")


class SubstitutionRule(models.TextChoices):
    """What a nursery may send when it cannot send what was asked."""

    NONE = "none", _("nothing else")
    ASK = "ask", _("ask us first")
    SAME_SPECIES = "same_species", _("the same species in another size, age or stock type")
    LISTED = "listed", _("what is listed, in that order")


class StockOrder(TenantModel):
    """What was asked of a nursery. Copies its figures; nothing here points at a derived row."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="orders")
    nursery = models.ForeignKey(
        Nursery, null=True, blank=True, on_delete=models.PROTECT, related_name="orders"
    )
    status = models.CharField(max_length=10, choices=OrderStatus, default=OrderStatus.DRAFT)
    reference = models.CharField(_("reference"), max_length=60, blank=True)
    nursery_reference = models.CharField(_("the nursery's own number"), max_length=60, blank=True)
    ordered_on = models.DateField(null=True, blank=True)
    confirmed_on = models.DateField(_("confirmed on"), null=True, blank=True)
    promised_on = models.DateField(_("promised for"), null=True, blank=True)
    closed_on = models.DateField(null=True, blank=True)
    deliver_to = models.CharField(_("deliver to"), max_length=200, blank=True)
    terms = models.TextField(_("deposit, guarantee and other terms"), blank=True)
    deposit_minor = models.BigIntegerField(_("deposit, in minor units"), null=True, blank=True)
    order_by = models.DateField(_("latest order date"), null=True, blank=True)
    needed_by = models.DateField(_("needed by"), null=True, blank=True)
    reason = models.TextField(_("reason"), blank=True)
    copied_figures = models.JSONField(default=dict, blank=True)
    currency = models.CharField(max_length=3, default="EUR")
    exchange_rate = models.DecimalField(max_digits=14, decimal_places=6, null=True, blank=True)
    exchange_rate_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [unique_in_organisation("stock_order")]

    def __str__(self) -> str:
        return self.reference or str(self.get_status_display())


class OrderLine(TenantModel):
    """One species and stock type of an order."""

    order = models.ForeignKey(StockOrder, on_delete=models.CASCADE, related_name="lines")
    block = models.ForeignKey(
        "projects.Block", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    stock_type = models.CharField(max_length=20, choices=StockType)
    age_code = models.CharField(_("age code"), max_length=20, blank=True, help_text=_("for example 1+1"))
    provenance = models.CharField(_("provenance asked for"), max_length=200, blank=True)
    quantity = models.PositiveIntegerField(_("quantity"))
    confirmed_quantity = models.PositiveIntegerField(_("confirmed by the nursery"), null=True, blank=True)
    unit_price_minor = models.BigIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3, default="EUR")
    substitution = models.CharField(
        _("if they cannot send it"), max_length=12, choices=SubstitutionRule, default=SubstitutionRule.ASK
    )
    note = models.CharField(_("note"), max_length=300, blank=True)

    class Meta:
        ordering = ["order_id", "id"]
        constraints = [
            unique_in_organisation("order_line"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="an_order_line_asks_for_something"),
        ]


class LineSubstitute(TenantModel):
    """What may come instead of an order line, the wanted first."""

    line = models.ForeignKey(OrderLine, on_delete=models.CASCADE, related_name="substitutes")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    stock_type = models.CharField(_("stock type"), max_length=20, choices=StockType, blank=True)
    rank = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["line_id", "rank", "id"]


class Delivery(TenantModel):
    """What came, when, against which order."""

    order = models.ForeignKey(
        StockOrder, null=True, blank=True, on_delete=models.PROTECT, related_name="deliveries"
    )
    nursery = models.ForeignKey(Nursery, on_delete=models.PROTECT, related_name="deliveries")
    delivered_on = models.DateField(_("delivered on"))
    note_number = models.CharField(_("number of the delivery note"), max_length=60, blank=True)
    carrier = models.CharField(_("brought by"), max_length=120, blank=True)
    received_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    note = models.TextField(_("note"), blank=True)

    class Meta:
        ordering = ["-delivered_on", "-id"]
        constraints = [
            unique_in_organisation("delivery"),
            models.UniqueConstraint(
                fields=["order", "nursery", "delivered_on", "note_number"],
                condition=Q(order__isnull=False),
                name="a_delivery_of_an_order_is_entered_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.note_number}, {self.delivered_on:%Y-%m-%d}".removeprefix(", ")


class StockLot(TenantModel):
    """Plants of one species, source, type and age that travel together."""

    code = models.CharField(_("lot code"), max_length=40)
    nursery = models.ForeignKey(Nursery, on_delete=models.PROTECT, related_name="lots")
    delivery = models.ForeignKey(
        Delivery, null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    order_line = models.ForeignKey(
        OrderLine, null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    stock_type = models.CharField(_("stock type"), max_length=20, choices=StockType)
    unit = models.CharField(_("unit"), max_length=10, choices=Unit, default=Unit.TREE)
    age_code = models.CharField(_("age code"), max_length=20, blank=True, help_text=_("for example 1+1"))
    provenance = models.CharField(_("provenance"), max_length=200, blank=True)
    category = models.CharField(_("category of the seed source"), max_length=40, blank=True)
    certificate = models.CharField(_("number of its certificate or passport"), max_length=60, blank=True)
    seed_lot = models.CharField(_("seed lot"), max_length=60, blank=True)
    seed_collection = models.ForeignKey(
        "projects.SeedCollection", null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    lifted_on = models.DateField(_("lifted on"), null=True, blank=True)
    received_on = models.DateField(_("received on"))
    received = models.PositiveIntegerField(_("received"))
    stated = models.PositiveIntegerField(_("on the delivery note"), null=True, blank=True)
    unit_cost_minor = models.BigIntegerField(_("cost of one, in minor units"), null=True, blank=True)
    currency = models.CharField(_("currency"), max_length=3, default="EUR")
    note = models.TextField(_("note"), blank=True)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = ArchivableQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "code"]
        constraints = [
            unique_in_organisation("stock_lot"),
            models.UniqueConstraint(fields=["organisation", "code"], name="a_lot_code_is_used_once"),
        ]

    def __str__(self) -> str:
        return self.code


class StoreKind(models.TextChoices):
    COLD_STORE = "cold_store", _("cold store")
    HEELED_IN = "heeled_in", _("heeled in")


class LotStorage(TenantModel):
    """A span a lot spent protected; its clock out of store stands still meanwhile."""

    lot = models.ForeignKey(StockLot, on_delete=models.CASCADE, related_name="storages")
    kind = models.CharField(max_length=12, choices=StoreKind)
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["lot_id", "from_on"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.from_on:%Y-%m-%d}"


class MovementKind(models.TextChoices):
    """Every way a lot's plants leave the store but by planting in a block."""

    GIVEN_OUT = "given_out", _("given out")
    MOVED_ON = "moved_on", _("moved on")
    CULLED = "culled", _("culled")
    RETURNED = "returned", _("returned")
    LOST = "lost", _("lost")


class LotMovement(TenantModel):
    """Plants that left a lot otherwise than into a block."""

    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(_("what happened"), max_length=10, choices=MovementKind)
    quantity = models.PositiveIntegerField(_("how many"))
    moved_on = models.DateField(_("when"))
    holding = models.ForeignKey(
        "projects.Holding", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    to_lot = models.ForeignKey(  # a split or a merge: these plants moved on into another lot
        StockLot, null=True, blank=True, on_delete=models.PROTECT, related_name="came_over"
    )
    note = models.CharField(_("note"), max_length=300, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["lot_id", "moved_on", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_movement_moves_something"),
            models.CheckConstraint(
                condition=Q(to_lot__isnull=True) | Q(kind=MovementKind.MOVED_ON),
                name="plants_that_change_lot_have_moved_on",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.get_kind_display()}, {self.moved_on:%Y-%m-%d}"


class StockTake(TenantModel):
    """A count of what is on hand, so that a gap can be seen rather than absorbed."""

    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="stock_takes")
    counted_on = models.DateField(_("counted on"))
    on_hand = models.PositiveIntegerField(_("on hand"))
    note = models.CharField(_("note"), max_length=300, blank=True)

    class Meta:
        ordering = ["lot_id", "-counted_on", "-id"]

    def __str__(self) -> str:
        return f"{self.on_hand}, {self.counted_on:%Y-%m-%d}"
