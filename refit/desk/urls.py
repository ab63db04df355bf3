"""Paths of `refit.desk`. Pages of one refit stand below ``/r/<slug>/``."""

from django.urls import URLPattern, URLResolver, include, path

from . import (
    baseline,
    booking_answers,
    changes,
    closing,
    earlier,
    find,
    findings,
    handoffs,
    health,
    home,
    importing,
    joining,
    journal,
    links,
    money,
    orders,
    package,
    package_acts,
    packages,
    papers,
    people,
    pieces,
    places,
    processes,
    quality,
    quality_rows,
    quotes,
    rigs,
    roads,
    sent,
    setup,
    today,
    trip_paper,
    trips,
    vendors,
    whatif,
    wishes,
)

app_name = "desk"

of_packages: list[URLPattern | URLResolver] = [
    path("", packages.packages, name="packages"),
    path("new/", package_acts.package_add, name="package-add"),
    path("<int:pk>/", package.package, name="package"),
    path("<int:pk>/edit/", package_acts.package_edit, name="package-edit"),
    path("<int:pk>/remove/", package_acts.package_remove, name="package-remove"),
    path("<int:pk>/answer/", booking_answers.booking_answer, name="booking-answer"),
    path(
        "<int:pk>/as-proposed/",
        booking_answers.booking_take_proposal,
        name="booking-take-proposal",
    ),
    path("<int:pk>/started/", package_acts.package_start, name="package-start"),
    path("<int:pk>/left/", package_acts.package_report, name="package-report"),
    path("<int:pk>/finished/", package_acts.package_finish, name="package-finish"),
    path("<int:pk>/waits/", package_acts.package_link, name="package-link"),
    path("<int:pk>/waits/<int:link>/", package_acts.link_edit, name="link-edit"),
    path("<int:pk>/waits/<int:link>/end/", package_acts.package_unlink, name="package-unlink"),
]

of_pieces: list[URLPattern | URLResolver] = [
    path("", pieces.pieces, name="pieces"),
    path("new/", pieces.piece_add, name="piece-add"),
    path("<int:pk>/", pieces.piece, name="piece"),
    path("<int:pk>/edit/", pieces.piece_edit, name="piece-edit"),
    path("<int:pk>/remove/", pieces.piece_remove, name="piece-remove"),
    path("<int:pk>/move/", handoffs.handoff_add, name="handoff-add"),
]

of_handoffs: list[URLPattern | URLResolver] = [
    path("<int:pk>/", handoffs.handoff, name="handoff"),
    path("<int:pk>/ready/", handoffs.handoff_ready, name="handoff-ready"),
    path("<int:pk>/not-ready/", handoffs.handoff_not_ready, name="handoff-not-ready"),
    path("<int:pk>/sent/", handoffs.handoff_send, name="handoff-send"),
    path("<int:pk>/received/", handoffs.handoff_receive, name="handoff-receive"),
    path("<int:pk>/promise/", handoffs.handoff_promise, name="handoff-promise"),
    path("<int:pk>/agreed/", handoffs.handoff_agree, name="handoff-agree"),
    path("<int:pk>/cancel/", handoffs.handoff_cancel, name="handoff-cancel"),
]

of_trips: list[URLPattern | URLResolver] = [
    path("", trips.trips, name="trips"),
    path("plan/", trips.trips_plan, name="trips-plan"),
    path("float/", trips.trips_float, name="trips-float"),
    path("how/", trips.trips_settings, name="trips-settings"),
    path("worker.js", trips.trips_worker, name="trips-worker"),
    path("moves/<int:pk>/day/", trips.trip_move_day, name="trip-move-day"),
    path("<int:pk>/", trips.trip, name="trip"),
    path("<int:pk>/paper.pdf", trip_paper.trip_paper, name="trip-paper"),
    path("<int:pk>/keep/", trips.trip_pin, name="trip-pin"),
    path("<int:pk>/checks/", trips.trip_checks, name="trip-checks"),
    path("<int:pk>/rest/", trips.trip_rest, name="trip-rest"),
    path("<int:pk>/stops/<int:stop>/", trips.trip_tick, name="trip-tick"),
]

of_rigs: list[URLPattern | URLResolver] = [
    path("", rigs.rigs, name="rigs"),
    path("new/", rigs.rig_add, name="rig-add"),
    path("<int:pk>/", rigs.rig_edit, name="rig-edit"),
    path("<int:pk>/remove/", rigs.rig_remove, name="rig-remove"),
]

of_vendors: list[URLPattern | URLResolver] = [
    path("", vendors.vendors, name="vendors"),
    path("new/", vendors.vendor_add, name="vendor-add"),
    path("<int:pk>/", vendors.vendor, name="vendor"),
    path("<int:pk>/edit/", vendors.vendor_edit, name="vendor-edit"),
    path("<int:pk>/remove/", vendors.vendor_remove, name="vendor-remove"),
    path("<int:pk>/papers/new/", papers.paper_add, name="paper-add"),
    path("papers/<int:pk>/", papers.paper_edit, name="paper-edit"),
    path("papers/<int:pk>/remove/", papers.paper_remove, name="paper-remove"),
]

of_places: list[URLPattern | URLResolver] = [
    path("", places.places, name="places"),
    path("new/", places.place_add, name="place-add"),
    path("roads/", roads.roads, name="roads"),
    path("roads/new/", roads.road_add, name="road-add"),
    path("roads/<int:origin>/<int:destination>/", roads.road, name="road"),
    path("roads/<int:pk>/remove/", roads.road_remove, name="road-remove"),
    path("<int:pk>/", places.place_edit, name="place-edit"),
    path("<int:pk>/remove/", places.place_remove, name="place-remove"),
]

of_crew: list[URLPattern | URLResolver] = [
    path("", places.crew, name="crew"),
    path("new/", places.crew_add, name="crew-add"),
    path("<int:pk>/", places.crew_edit, name="crew-edit"),
    path("<int:pk>/remove/", places.crew_remove, name="crew-remove"),
    path("zones/new/", places.zone_add, name="zone-add"),
    path("zones/<int:pk>/", places.zone_edit, name="zone-edit"),
    path("zones/<int:pk>/remove/", places.zone_remove, name="zone-remove"),
]

of_findings: list[URLPattern | URLResolver] = [
    path("", findings.findings, name="findings"),
    path("new/", findings.finding_add, name="finding-add"),
    path("<int:pk>/", findings.finding, name="finding"),
    path("<int:pk>/edit/", findings.finding_edit, name="finding-edit"),
    path("<int:pk>/decide/", findings.finding_decide, name="finding-decide"),
]

of_quotes: list[URLPattern | URLResolver] = [
    path("", quotes.quotes, name="quotes"),
    path("ask/", quotes.quote_ask, name="quote-ask"),
    path("<int:pk>/", quotes.quote, name="quote"),
    path("<int:pk>/launch/", quotes.quote_work_out, name="quote-work-out"),
    path("<int:pk>/close/", quotes.quote_close, name="quote-close"),
    path("<int:pk>/<int:quote>/", quotes.quote_answer, name="quote-answer"),
    path("<int:pk>/<int:quote>/accept/", quotes.quote_accept, name="quote-accept"),
]

of_orders: list[URLPattern | URLResolver] = [
    path("", orders.orders, name="orders"),
    path("<int:pk>/", orders.order, name="order"),
    path("<int:pk>/paper/", orders.order_paper, name="order-paper"),
    path("<int:pk>/terms/", orders.order_terms, name="order-terms"),
    path("<int:pk>/agreed/", orders.order_agreed, name="order-agreed"),
    path("<int:pk>/end/", orders.order_end, name="order-end"),
]

of_changes: list[URLPattern | URLResolver] = [
    path("", changes.changes, name="changes"),
    path("new/", changes.change_add, name="change-add"),
    path("<int:pk>/", changes.change, name="change"),
    path("<int:pk>/ask/", changes.change_ask, name="change-ask"),
    path("<int:pk>/word/", changes.change_word, name="change-word"),
    path("<int:pk>/withdraw/", changes.change_withdraw, name="change-withdraw"),
]

of_money: list[URLPattern | URLResolver] = [
    path("", money.budget, name="budget"),
    path("terms/", money.budget_terms, name="budget-terms"),
    path("books.csv", money.budget_csv, name="budget-csv"),
    path("hours/", money.hours_log, name="hours-log"),
    path("payments/", money.payments, name="payments"),
    path("payments/new/", money.payment_add, name="payment-add"),
    path("payments/<int:pk>/back/", money.payment_back, name="payment-back"),
]

of_goods: list[URLPattern | URLResolver] = [
    path("", money.goods, name="goods"),
    path("new/", money.goods_add, name="goods-add"),
    path("<int:pk>/", money.goods_edit, name="goods-edit"),
    path("<int:pk>/remove/", money.goods_remove, name="goods-remove"),
]

of_processes: list[URLPattern | URLResolver] = [
    path("", processes.processes, name="processes"),
    path("<slug:key>/", processes.process, name="process"),
    path("<slug:key>/apply/", processes.process_apply, name="process-apply"),
    path("<slug:key>/copy/", processes.process_copy, name="process-copy"),
    path("<slug:key>/edit/", processes.process_edit, name="process-edit"),
    path("<slug:key>/remove/", processes.process_remove, name="process-remove"),
]

of_quality: list[URLPattern | URLResolver] = [
    path("", quality.readings, name="readings"),
    path("climate/", quality.climate, name="climate"),
    path("punch-list/", quality.punch_list, name="punch-list"),
    path("punch-list/<int:pk>/next/", quality.punch_done, name="punch-done"),
    path("close-out/", closing.close_out, name="close-out"),
    path("close-out/as-refit.pdf", closing.as_refit_pdf, name="as-refit-pdf"),
    path("close-out/as-refit.zip", closing.as_refit_folder, name="as-refit-zip"),
    path("criteria/<int:pk>/inspect/", quality.criterion_inspect, name="criterion-inspect"),
    path("inspections/<int:pk>/rework/", quality.inspection_rework, name="inspection-rework"),
    path("row/<slug:kind>/new/", quality_rows.row_add, name="quality-add"),
    path("row/<slug:kind>/<int:pk>/", quality_rows.row_edit, name="quality-edit"),
    path("row/<slug:kind>/<int:pk>/remove/", quality_rows.row_remove, name="quality-remove"),
]

of_baselines: list[URLPattern | URLResolver] = [
    path("", baseline.baselines, name="baselines"),
    path("keep/", baseline.baseline_keep, name="baseline-keep"),
    path("<int:pk>/choose/", baseline.baseline_choose, name="baseline-choose"),
]

of_what_if: list[URLPattern | URLResolver] = [
    path("", whatif.whatif, name="whatif"),
    path("try/<slug:kind>/", whatif.whatif_try, name="whatif-try"),
    path("mend/<slug:remedy>/", whatif.whatif_mend, name="whatif-mend"),
    path("take-out/", whatif.whatif_take_out, name="whatif-take-out"),
    path("discard/", whatif.whatif_discard, name="whatif-discard"),
    path("apply/", whatif.whatif_apply, name="whatif-apply"),
]

of_search: list[URLPattern | URLResolver] = [
    path("", earlier.search, name="search"),
    path("begin/", earlier.search_begin, name="search-begin"),
    path("stop/", earlier.search_stop, name="search-stop"),
]

of_people: list[URLPattern | URLResolver] = [
    path("", people.people, name="people"),
    path("<int:pk>/part/", people.person_role, name="person-role"),
    path("<int:pk>/end/", people.person_end, name="person-end"),
    path("invited/<int:pk>/take-back/", people.invitation_end, name="invitation-end"),
]

of_one_refit: list[URLPattern | URLResolver] = [
    path("", today.today, name="today"),
    path("called/", today.called, name="called"),
    path("find/", find.find, name="find"),
    path("plan/", setup.plan_line, name="plan-line"),
    path("packages/", include(of_packages)),
    path("pieces/", include(of_pieces)),
    path("handoffs/", include(of_handoffs)),
    path("trips/", include(of_trips)),
    path("rigs/", include(of_rigs)),
    path("vendors/", include(of_vendors)),
    path("places/", include(of_places)),
    path("crew/", include(of_crew)),
    path("findings/", include(of_findings)),
    path("quotes/", include(of_quotes)),
    path("orders/", include(of_orders)),
    path("changes/", include(of_changes)),
    path("money/", include(of_money)),
    path("goods/", include(of_goods)),
    path("processes/", include(of_processes)),
    path("quality/", include(of_quality)),
    path("survey/", quality.survey, name="survey"),
    path("surfaces/", quality.surfaces, name="surfaces"),
    path("baselines/", include(of_baselines)),
    path("what-if/", include(of_what_if)),
    path("earlier-launch/", include(of_search)),
    path("health/", health.health, name="health"),
    path("ledger/", baseline.ledger, name="ledger"),
    path("people/", include(of_people)),
    path("links/", links.links, name="links"),
    path("links/give/", links.link_issue, name="link-issue"),
    path("links/take-back/", links.link_revoke, name="link-revoke"),
    path("journal/", journal.journal, name="journal"),
    path("journal/journal.csv", journal.journal_file, name="journal-file"),
    path("journal/<int:pk>/undo/", journal.undo, name="undo"),
    path("reminders/", sent.sent, name="sent"),
    path("reminders/address/<int:pk>/good/", sent.address_good, name="address-good"),
    path("reminders/<int:pk>/again/", sent.sent_again, name="sent-again"),
    path("reminders/mine/", wishes.wishes, name="wishes"),
    path("settings/", setup.settings, name="settings"),
    path("settings/close/", setup.refit_close, name="refit-close"),
    path("settings/open-again/", setup.refit_reopen, name="refit-reopen"),
    path("", include("refit.desk.whereabouts.urls")),
    path("import/", importing.import_page, name="import"),
    path("import/<int:pk>/", importing.import_preview, name="import-preview"),
    path("import/template.<str:form>", importing.import_template, name="import-template"),
    path("export.<str:form>", importing.export, name="export"),
]

urlpatterns: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("new/", home.new, name="new"),
    path("invited/<str:token>/", joining.invited, name="invited"),
    path("new/document/", importing.import_document, name="import-document"),
    path("r/<slug:slug>/", include(of_one_refit)),
]
