package web

import "net/http"

// routes is the one list of what the server answers: each file that has routes
// adds them by a method named here.
var routes = []func(*Server, *http.ServeMux){
	(*Server).routesAssets,
	(*Server).routesPairing,
	(*Server).routesDoor,
	(*Server).routesDevices,
	(*Server).routesWriter,
	(*Server).routesUndo,
	(*Server).routesHome,
	(*Server).routesCase,
	(*Server).routesActs,
	(*Server).routesPhotos,
	(*Server).routesPhoto,
	(*Server).routesIntake,
	(*Server).routesExamination,
	(*Server).routesMakeUp,
	(*Server).routesCollate,
	(*Server).routesPlaces,
	(*Server).routesCondition,
	(*Server).routesMap,
	(*Server).routesFinding,
	(*Server).routesTissue,
	(*Server).routesLay,
	(*Server).routesTests,
	(*Server).routesWithdraw,
	(*Server).routesBench,
	(*Server).routesScan,
	(*Server).routesLog,
	(*Server).routesProposal,
	(*Server).routesResults,
	(*Server).routesSheet,
	(*Server).routesMeasured,
	(*Server).routesComparison,
	(*Server).routesAreas,
	(*Server).routesPapers,
	(*Server).routesDay,
	(*Server).routesSolutions,
	(*Server).routesStudio,
}
