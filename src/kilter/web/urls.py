"""Addresses of the pages."""

from __future__ import annotations

from django.urls import include, path

from kilter.web.pages import about, bench, boards, collection, door, files, gate, people, proposals, visits, work

OBJECT, VISIT = "object/<int:pk>/", "object/<int:pk>/visit/<int:number>/"
urlpatterns = [
    path("", collection.collection, name="collection"),
    path("door/", door.door, name="door"),
    path("leave/", door.leave, name="leave"),
    path("first/<str:code>/", door.first, name="first"),
    path("hello/<str:code>/", door.hello, name="hello"),
    path("language/", include("django.conf.urls.i18n")),
    path("object/new/", collection.receive, name="receive"),
    path(OBJECT, about.about, name="object"),
    path(f"{OBJECT}history/", about.history, name="history"),
    path(f"{OBJECT}change/", collection.change, name="change"),
    path(f"{OBJECT}say/", about.say, name="say"),
    path("statement/<int:pk>/back/", about.take_statement_back, name="take_back"),
    path(f"{OBJECT}file/", files.bring, name="bring"),
    path(f"{OBJECT}visit/", about.open_one, name="open_visit"),
    path(f"{OBJECT}propose/", proposals.new, name="propose"),
    path(f"{OBJECT}repair/", proposals.repair, name="repair"),
    path(VISIT, visits.visit, name="visit"),
    path(f"{VISIT}change/", visits.change_visit, name="change_visit"),
    path(f"{VISIT}file/", files.bring, name="bring_to_visit"),
    path(f"{VISIT}bench/", bench.bench, name="bench"),
    path(f"{VISIT}bench/take/", bench.take, name="take"),
    path(f"{VISIT}power/", gate.gate, name="gate"),
    path(f"{VISIT}power/plan/", gate.switch_on_plan, name="switch_on_plan"),
    path(f"{VISIT}power/checks/", gate.take_checks, name="take_checks"),
    path(f"{VISIT}power/on/", gate.let_power_on, name="let_power_on"),
    path(f"{VISIT}thorough/", work.start, name="thorough"),
    path("file/<int:pk>/", files.fetch, name="file"),
    path("file/<int:pk>/away/", files.take_away, name="take_away"),
    path("proposal/<int:pk>/", proposals.proposal, name="proposal"),
    path("proposal/<int:pk>/change/", proposals.change, name="change_proposal"),
    path("proposal/<int:pk>/answer/", proposals.give_answer, name="answer"),
    path("proposal/<int:pk>/withdraw/", proposals.withdraw, name="withdraw"),
    path("piece/<int:pk>/", proposals.move, name="piece"),
    path("boards/", boards.boards, name="boards"),
    path("boards/new/", boards.keep, name="keep_board"),
    path("boards/<slug:key>/", boards.board, name="board"),
    path("boards/<slug:key>/edition/", boards.keep, name="keep_edition"),
    path("people/", people.people, name="people"),
    path("people/new/", people.add, name="add_person"),
    path("people/<int:pk>/", people.person, name="person"),
    path("me/", people.me, name="me"),
    path("me/key/", people.new_key, name="new_key"),
    path("me/key/end/", people.end_key, name="end_key"),
    path("api/", include("kilter.web.api.urls")),
    path("work/", work.jobs, name="jobs"),
    path("work/<int:pk>/", work.job, name="job"),
    path("work/<int:pk>/stop/", work.stop_one, name="stop_job"),
]
handler404 = "kilter.web.trouble.not_found"
handler403 = "kilter.web.trouble.forbidden"
handler500 = "kilter.web.trouble.broken"
