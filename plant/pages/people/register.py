"""The people of a site, and one person: roles, what they have in hand, what they signed."""

from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant import access
from plant.models import Membership, Person, Site
from plant.pages.context import SheetRequest, own_site, render_sheet
from plant.pages.forms import add_refusal
from plant.pages.people.forms import LeaveForm, PersonForm, RoleForm
from plant.pages.people.links import hand_out
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused
from plant.selectors.belongings import in_hand, signed_last
from plant.selectors.invitations import invitations_kept_by
from plant.selectors.people import employers_at, people_at, people_kept_by, role_history
from plant.services.invitations import make_sign_in_link
from plant.services.leaving import leave_site, stop_account
from plant.services.people import change_person, end_role, give_role, role_of
from plant.sitetime import today_at

SOON = timedelta(days=30)
# Two forms stand on one page: their fields are told apart.
ROLE_IDS = "role_%s"


def sites_kept(person: Person) -> QuerySet[Site]:
    """Sites whose people this person keeps; whoever keeps none is told so."""
    sites: QuerySet[Site] = Site.objects.order_by("name")
    if not (person.sees_everything and access.may(person, "people.write", None)):
        sites = sites.filter(pk__in=access.sites_where(person, "people.write"))
    if not sites.exists():
        raise NotAllowed(_("People are kept by the keeper of a site."))
    return sites


@require_safe
@login_required
def people(request: SheetRequest) -> HttpResponse:
    """Who works at a site; the filters stand in the address."""
    sites = list(sites_kept(request.user))
    mine = own_site(request)
    start = mine if mine in sites else sites[0]
    site = next((one for one in sites if str(one.uuid) == request.GET.get("site")), start)
    assert site is not None
    today = today_at(site, timezone.now())
    role = request.GET.get("role", "") if request.GET.get("role") in Membership.Role.values else ""
    chosen = {"text": request.GET.get("q", "").strip()[:100], "role": role, "employer": request.GET.get("employer", "")}
    ending = request.GET.get("ending") == "1"
    rows = people_at(site, **chosen, ends_by=today + SOON if ending else None, today=today)
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    soon = people_at(site, ends_by=today + SOON, today=today).count()
    count = page.paginator.count
    context = {
        "headline": ngettext("One person", "%(n)s people", count) % {"n": count},
        "soon": soon,
        "page": page,
        "sites": sites,
        "roles": Membership.Role.choices,
        "employers": employers_at(site),
        "ending": ending,
        "soon_by": today + SOON,
        "invitations": [
            row
            for row in invitations_kept_by(request.user).filter(
                site=site, used_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=timezone.now()
            )[:50]
        ],
        **chosen,
    }
    return render_sheet(request, "plant/people/list.html", context, site=site)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def person(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """One person; a POST corrects name, address, employer and last day."""
    who = _kept(request, uuid)
    if request.method != "POST":
        return _page(request, who)
    form = PersonForm(request.POST)
    if form.is_valid():
        try:
            with recording(by=request.user, at=timezone.now()):
                change_person(person=who, **form.cleaned_data)
            messages.success(request, _("%(name)s is changed.") % {"name": who})
            return redirect("person", who.uuid)
        except Refused as refusal:
            add_refusal(form, refusal)
    return _page(request, _kept(request, uuid), form=form, status=422)


@require_POST
@login_required
def give(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Give a role at one of the keeper's sites."""
    who = _kept(request, uuid)
    form = RoleForm(request.POST, sites=sites_kept(request.user), auto_id=ROLE_IDS)
    if form.is_valid():
        try:
            with recording(by=request.user, at=timezone.now()):
                row = give_role(person=who, **form.cleaned_data)
            messages.success(request, _("%(role)s.") % {"role": str(row)})
            return redirect("person", who.uuid)
        except Refused as refusal:
            add_refusal(form, refusal)
    return _page(request, who, role_form=form, status=422)


@require_POST
@login_required
def end(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """End a role today, as the day is at its site."""
    who = _kept(request, uuid)
    site = sites_kept(request.user).filter(uuid__in=_uuids(request.POST.get("site"))).first()
    if site is None:
        raise Missing()
    now = timezone.now()
    with recording(by=request.user, at=now):
        row = role_of(person=who, site=site, role=request.POST.get("role", ""))
        end_role(membership=row, until_on=max(today_at(site, now), row.from_on))
    messages.success(request, _("%(role)s ends today.") % {"role": str(row)})
    return redirect("person", who.uuid)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def leave(request: SheetRequest, uuid: UUID, site: UUID) -> HttpResponse:
    """Somebody leaves a site: what they have in hand, who takes it over, and the last day."""
    who = _kept(request, uuid)
    place = sites_kept(request.user).filter(uuid=site).first()
    if place is None:
        raise Missing()
    now = timezone.now()
    today = today_at(place, now)
    others = people_at(place, today=today).filter(is_active=True).exclude(pk=who.pk)
    form = LeaveForm(request.POST or None, others=others, initial={"on": today})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            with recording(by=request.user, at=now):
                leave_site(person=who, site=place, on=given["on"], to=form.others.get(given["to"]))
            said = _("%(name)s leaves %(site)s. What they signed stays in the records under their name.")
            messages.success(request, said % {"name": who, "site": place})
            return redirect("person", who.uuid)
        except Refused as refusal:
            add_refusal(form, refusal)
    context = {"who": who, "place": place, "form": form, "things": in_hand(who, {place.pk}, now)}
    status = 422 if form.is_bound else 200
    return render_sheet(request, "plant/people/leave.html", context, site=place, status=status)


@require_POST
@login_required
def stop(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """Close the account: sessions, tokens and links end at once."""
    who = _kept(request, uuid)
    with recording(by=request.user, at=timezone.now()):
        stop_account(person=who)
    messages.success(request, _("%(name)s cannot come in any more. Signatures and names stay.") % {"name": who})
    return redirect("person", who.uuid)


@require_POST
@login_required
@never_cache
def link(request: SheetRequest, uuid: UUID) -> HttpResponse:
    """A link for a new password, shown this once."""
    who = _kept(request, uuid)
    with recording(by=request.user, at=timezone.now()):
        row, secret = make_sign_in_link(person=who)
    return hand_out(request, row, secret, back=reverse("person", args=[who.uuid]))


def _kept(request: SheetRequest, uuid: UUID) -> Person:
    found = people_kept_by(request.user).filter(uuid=uuid).first()
    if found is None or (not access.sites_where(request.user, "people.write") and not request.user.sees_everything):
        raise Missing()
    return found


def _uuids(given: str | None) -> list[UUID]:
    try:
        return [UUID(given or "")]
    except ValueError:
        return []


def _page(
    request: SheetRequest,
    who: Person,
    *,
    form: PersonForm | None = None,
    role_form: RoleForm | None = None,
    status: int = 200,
) -> HttpResponse:
    now = timezone.now()
    sites = sites_kept(request.user)
    kept = {site.pk: site for site in sites}
    roles = [row for row in who.memberships.all() if row.site_id in kept]
    starters = {name: getattr(who, name) for name in PersonForm.base_fields}
    today = today_at(roles[0].site, now) if roles else now.date()
    context = {
        "who": who,
        "roles": [(row, row.until_on is None or row.until_on >= today_at(row.site, now)) for row in roles],
        "places": [kept[pk] for pk in dict.fromkeys(row.site_id for row in roles)],
        "changes": role_history(who, set(kept)),
        "things": in_hand(who, set(kept), now),
        "signed": signed_last(who, set(kept)),
        "form": form or PersonForm(initial=starters),
        "role_form": role_form or RoleForm(sites=sites, initial={"from_on": today}, auto_id=ROLE_IDS),
    }
    return render_sheet(request, "plant/people/person.html", context, status=status)
