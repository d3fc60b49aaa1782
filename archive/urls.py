"""The addresses of this slice."""

from django.urls import path

from archive import (
    analysis_pages,
    dictionary_pages,
    extending_pages,
    field_pages,
    handing,
    intake_pages,
    linked_pages,
    pool_pages,
    serving,
    views,
    workbooks,
)
from archive.copies import pages as copy_pages
from archive.extending_forms import DICTIONARY_DEEDS, MAPPING_DEEDS, POOL_DEEDS
from archive.forms import ANALYSIS_DEEDS, DEPOSIT_DEEDS, PROJECT_DEEDS, STUDY_DEEDS, VERSION_DEEDS
from archive.models import Analysis, Deposit, Dictionary, DictionaryMapping, PooledTable, Version
from registry.projects.models import Project, Study
from registry.web import offer

app_name = "archive"
urlpatterns = [
    path("", views.dataset_list, name="list"),
    path("<int:pk>/", views.dataset, name="dataset"),
    path("ark/<str:name>/", views.ark, name="ark"),
    path("<int:pk>/next/", dictionary_pages.next_cohort, name="next_cohort"),
    path("fields/", field_pages.fields, name="fields"),
    path("fields/<str:mark>/", field_pages.field, name="field"),
    path("dictionaries/", dictionary_pages.dictionary_list, name="dictionaries"),
    path("dictionaries/<int:pk>/", dictionary_pages.dictionary, name="dictionary"),
    path(
        "dictionaries/<int:pk>/descriptor.json",
        dictionary_pages.dictionary_descriptor,
        name="dictionary_descriptor",
    ),
    path("dictionaries/<int:pk>/blank.xlsx", dictionary_pages.blank, name="blank_book"),
    path(
        "dictionaries/<int:pk>/<slug:path>/",
        extending_pages.dictionary_deed,
        name="dictionary_deed",
    ),
    path("pools/<int:pk>/", pool_pages.pool, name="pool"),
    path("pools/<int:pk>/rows.csv", pool_pages.pool_file, {"form": "csv"}, "pool_csv"),
    path("pools/<int:pk>/rows.parquet", pool_pages.pool_file, {"form": "parquet"}, "pool_parquet"),
    path("pools/<int:pk>/rows.xlsx", pool_pages.pool_file, {"form": "xlsx"}, "pool_xlsx"),
    path(
        "pools/<int:pk>/spreadsheet.csv",
        pool_pages.pool_file,
        {"form": "spreadsheet"},
        "pool_spreadsheet",
    ),
    path("pools/<int:pk>/<slug:path>/", extending_pages.pool_deed, name="pool_deed"),
    path("mappings/<int:pk>/", extending_pages.mapping, name="mapping"),
    path("mappings/<int:pk>/<slug:path>/", extending_pages.mapping_deed, name="mapping_deed"),
    path("dictionaries/<int:pk>/<str:table>.csv", dictionary_pages.data_sheet, name="data_sheet"),
    path("studies/<int:pk>/<slug:path>/", views.study_deed, name="study_deed"),
    path("projects/<int:pk>/<slug:path>/", views.project_deed, name="project_deed"),
    path("copies/", copy_pages.look, name="copies"),
    path("deposits/", views.deposit_list, name="deposits"),
    path("deposits/<int:pk>/", views.deposit, name="deposit"),
    path("deposits/<int:pk>/findings.csv", views.findings, {"form": "csv"}, "findings_csv"),
    path("deposits/<int:pk>/findings.json", views.findings, {"form": "json"}, "findings_json"),
    path("deposits/<int:pk>/annotated.xlsx", views.annotated_book, name="annotated_book"),
    path(
        "deposits/<int:pk>/annotated/<str:table>.csv",
        views.annotated_table,
        name="annotated_table",
    ),
    path("deposits/<int:pk>/files/<int:file>/", views.deposit_file, name="deposit_file"),
    path("deposits/<int:pk>/files/<int:file>/intake/", intake_pages.page, name="intake"),
    path("deposits/<int:pk>/<slug:path>/", views.deposit_deed, name="deposit_deed"),
    path("analyses/<int:pk>/", analysis_pages.analysis, name="analysis"),
    path("analyses/<int:pk>/figures/<slug:name>.<slug:form>", analysis_pages.figure, name="figure"),
    path("analyses/<int:pk>/analysis.<slug:form>", handing.handed, name="handed"),
    path("analyses/<int:pk>/<slug:path>/", analysis_pages.analysis_deed, name="analysis_deed"),
    path("versions/<int:pk>/<slug:path>/", views.version_deed, name="version_deed"),
    path("versions/<slug:slug>/", views.version, name="version"),
    path("versions/<slug:slug>/datapackage.json", serving.descriptor, name="descriptor"),
    path("versions/<slug:slug>/data/<path:name>", serving.data, name="data"),
    path("versions/<slug:slug>/spreadsheet/<path:name>", serving.spreadsheet, name="spreadsheet"),
    path("versions/<slug:slug>/workbook/<slug:name>.xlsx", workbooks.workbook, name="workbook"),
    path("versions/<slug:slug>/columns/<slug:name>.parquet", serving.columns, name="columns"),
    path("versions/<slug:slug>/package.zip", serving.package, name="package"),
    path("versions/<slug:slug>/bag.zip", serving.bag, name="bag"),
    path("versions/<slug:slug>/crate.zip", serving.crated, name="crate"),
    path("versions/<slug:slug>/citation.jsonld", linked_pages.jsonld, name="jsonld"),
    path("versions/<slug:slug>/linkset.json", linked_pages.link_list, name="linkset"),
    path("versions/<slug:slug>/citation.<str:form>", serving.cite, name="cite"),
]
offer(Study, STUDY_DEEDS, "archive:study_deed")
offer(Project, PROJECT_DEEDS, "archive:project_deed")
offer(Dictionary, DICTIONARY_DEEDS, "archive:dictionary_deed")
offer(DictionaryMapping, MAPPING_DEEDS, "archive:mapping_deed")
offer(PooledTable, POOL_DEEDS, "archive:pool_deed")
offer(Deposit, DEPOSIT_DEEDS, "archive:deposit_deed")
offer(Version, VERSION_DEEDS, "archive:version_deed")
offer(Analysis, ANALYSIS_DEEDS, "archive:analysis_deed")
