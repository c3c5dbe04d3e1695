"""Long work: what waits, runs and has ended, with a way to stop it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from kilter.store.models import Job
from kilter.store.verbs.jobs import ask_for, stop
from kilter.web.access import page, person_of, visit_at


@page()
@require_safe
def jobs(request: HttpRequest) -> HttpResponse:
    """The latest hundred."""
    rows = Job.objects.select_related("who__personal").order_by("-pk")[:100]
    template = "web/job_rows.html" if getattr(request, "htmx", False) else "web/jobs.html"
    return render(request, template, {"rows": rows})


@page()
@require_safe
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """One of them; the page asks again while it runs."""
    found = get_object_or_404(Job.objects.select_related("who__personal"), pk=pk)
    template = "web/job_inside.html" if getattr(request, "htmx", False) else "web/job.html"
    return render(request, template, {"job": found})


@page("start long work")
@require_POST
def start(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """A thorough diagnosis of a visit, which takes minutes."""
    found = visit_at(pk, number)
    asked = ask_for(person_of(request), "thorough diagnosis", {"visit": found.pk})
    return HttpResponseRedirect(reverse("job", args=[asked.pk]))


@page("stop long work")
@require_POST
def stop_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Asks a job to stop."""
    stop(person_of(request), get_object_or_404(Job, pk=pk))
    return HttpResponseRedirect(reverse("job", args=[pk]))
