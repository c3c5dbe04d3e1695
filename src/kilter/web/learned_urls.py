"""Addresses of what visits taught, of how they ended, and of experience shared with other collections."""

from __future__ import annotations

from django.urls import path

from kilter.web.pages import learned, outcome, sharing

VISIT = "object/<int:pk>/visit/<int:number>/"
urlpatterns = [
    path(f"{VISIT}outcome/", outcome.outcome, name="outcome"),
    path(f"{VISIT}bench/odds/", learned.without_learned, name="without_learned"),
    path("learned/", learned.learned, name="learned"),
    path("learned/now/", learned.learn_now, name="learn_now"),
    path("learned/<int:number>/", learned.lesson, name="lesson"),
    path("learned/<int:number>/file/", sharing.shared_file, name="shared_file"),
    path("learned/<int:number>/boards/", sharing.shared_boards, name="shared_boards"),
    path("sharing/", sharing.sharing, name="sharing"),
    path("sharing/key/", sharing.make_own_key, name="make_own_key"),
    path("sharing/out/", sharing.share_out, name="share_out"),
    path("sharing/in/", sharing.take_in, name="take_in"),
    path("sharing/keys/new/", sharing.new_sharer, name="new_sharer"),
    path("sharing/keys/<int:pk>/", sharing.sharer, name="sharer"),
]
