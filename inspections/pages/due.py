"""The planner's list: what, where, by when, and why."""

from datetime import timedelta

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from inspections.reasons import check_sentence
from inspections.selectors.checks import checks_due
from plant.models import Area, Site
from plant.pages.context import SheetRequest, of_site, own_site, render_sheet
from plant.sitetime import today_at

SPANS = [
    (28, gettext_lazy("within 4 weeks")),
    (84, gettext_lazy("within 12 weeks")),
    (366, gettext_lazy("within a year")),
]


@require_safe
@login_required
def due(request: SheetRequest) -> HttpResponse:
    """Overdue first, then by date; the choice stands in the address, so that a list can be kept as a link."""
    sites = list(Site.objects.visible_to(request.user).order_by("name"))
    site = next((one for one in sites if str(one.uuid) == request.GET.get("site")), own_site(request))
    if site is None:
        return render_sheet(request, "inspections/due.html", {"groups": [], "sites": []})
    today = today_at(site, timezone.now())
    days = next((span for span, _name in SPANS if str(span) == request.GET.get("days")), SPANS[0][0])
    areas = list(Area.objects.visible_to(request.user).filter(site=site))
    area = next((one for one in areas if str(one.uuid) == request.GET.get("area")), None)
    until = today + timedelta(days=days)
    page = Paginator(checks_due(request.user, until, site=site, area=area), 50).get_page(request.GET.get("page"))
    rows = [(check, check_sentence(check, site.units)) for check in page.object_list]
    over = [row for row in rows if row[0].closes_on < today]
    coming = [row for row in rows if row[0].closes_on >= today]
    overdue = checks_due(request.user, until, site=site, area=area, overdue_only=True).count()
    groups = [(name, some, sum(check.crew_hours * check.crew_size for check, _why in some))
              for name, some in [(_("Overdue"), over), (_("Due"), coming)] if some]  # fmt: skip
    context = {
        "headline": _headline(overdue, page.paginator.count - overdue),
        "groups": groups,
        "page": page,
        "sites": sites,
        "areas": areas,
        "area": area,
        "spans": SPANS,
        "days": days,
        "until": until,
        **of_site(site),
    }
    if request.htmx and not request.htmx.history_restore_request:
        return render_sheet(request, "inspections/due.html#list", context, site=site)
    return render_sheet(request, "inspections/due.html", context, site=site)


def _headline(overdue: int, coming: int) -> str:
    if not overdue and not coming:
        return _("Nothing is due")
    late = (
        ngettext("One is overdue", "%(n)s are overdue", overdue) % {"n": overdue} if overdue else _("None is overdue")
    )
    return late + ", " + (ngettext("one falls due", "%(n)s fall due", coming) % {"n": coming})
